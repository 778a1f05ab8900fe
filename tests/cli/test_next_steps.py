"""Tests of the commands that are printed as next steps."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from inspector.__main__ import main
from inspector.cli.next_steps import next_steps
from inspector.delivery.choices import all_choices, lossless_choices
from inspector.delivery.planning import make_plan
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.discovery.settings import Settings
from tests.fixes.materials.test_replace_missing_maps import LOST
from tests.helpers.bodies import BODIES, shot_of
from tests.helpers.broken.motion import stuck
from tests.helpers.broken.shape import doubled
from tests.helpers.broken.topology import one_face_less
from tests.helpers.broken.uvs import bare, layout_turned
from tests.helpers.materials import library, with_library
from tests.helpers.meshes import wing
from tests.helpers.mutations import MUTATIONS, Mutation
from tests.helpers.sequences import Files, move, shot, write
from tests.helpers.uvs import all_laid

KINDS: dict[str, Files] = {
    "no UVs on one frame": shot({5: bare}),
    "no UVs": shot(dict.fromkeys(range(1, 13), bare)),
    "mirrored UVs": all_laid(lambda uv: [1, 0] + uv * [-1, 1], first=0),
    "turned UVs": layout_turned(90),
    "another topology": shot({5: one_face_less}),
    "another topology on many frames": shot(dict.fromkeys(range(3, 8), one_face_less)),
    "not readable": shot() | {"manta.0005.obj": b""},
    "more missing frames than may be estimated": shot(numbers=[1, 2, 3, *range(8, 20)]),
    "missing textures": with_library(LOST),
    "an opacity with two meanings": with_library("map_Kd skin.png", "Tr 1"),
    "far from the origin": move(lambda _: (1e6, 0, 0), range(1, 13), wing),
    "two libraries that differ, and one that is gone": shot(
        {
            number: lambda mesh, name=name: mesh.edit(head=(f"mtllib {name}.mtl", "o manta"))
            for number, name in {**dict.fromkeys(range(1, 6), "other"), 6: "gone", 12: "gone"}.items()
        }
    )
    | {"other.mtl": library("map_Kd skin.png", "Kd 0 0 0")},
}

ONLY_ONE = re.compile(
    r"^ +\(adds (.+) to this plan; to add only one of them, use --with ID instead of --all;", re.MULTILINE
)

PRINTED = re.compile(
    r"(next: |  or: |details: |to write the frames: |correct it: |correct: )(meshqc .*)$", re.MULTILINE
)


def follow(words: list[str], folder: Path, capsys: pytest.CaptureFixture[str]) -> list[str]:
    """Run a command and, in turn, each next command that is printed. Return the printed commands, without repetitions.

    Commands that open the terminal UI are not run. Commands after "or:", and commands with a single fix instead of all
    fixes, are only previewed, because they would write to the same output.
    """
    done: list[str] = []
    waiting = [words]
    while waiting:
        code = main(waiting.pop())
        said = capsys.readouterr()
        assert code in (0, 1), (done[-1:], said.err)
        printed = PRINTED.findall(said.out + said.err)
        previews = [line for which, line in printed if which == "  or: " and " fix " in line]
        for fixes in ONLY_ONE.findall(said.out):
            every = next(line for _, line in printed if " --all" in line)
            previews += [every.replace(" --all", f" --with {fix}") for fix in fixes.split(", ")]
        for line in previews:
            done.append(f"{line} --dry-run")
            code = main(shlex.split(done[-1])[1:])
            assert code in (0, 1), (done[-1], capsys.readouterr().err)
        capsys.readouterr()
        for line in (line for _, line in printed if line not in done and line not in previews):
            done.append(line)
            command, *rest = shlex.split(line)[1:]
            if not rest:
                assert (folder / command).is_dir(), line
            else:
                waiting.append([command, *rest])
    return done


@pytest.mark.parametrize("kind", KINDS)
def test_each_printed_command_runs(
    kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write(tmp_path / "in", KINDS[kind])
    monkeypatch.chdir(tmp_path)
    lines = follow(["check", "in"], tmp_path, capsys)
    assert all((tmp_path / "in_fixed").is_dir() for line in lines if " fix " in line and "--dry-run" not in line)


@pytest.mark.parametrize(
    "files", [stuck(6), shot(dict.fromkeys(range(1, 13), doubled))], ids=["a frozen frame", "a face twice"]
)
def test_each_command_printed_runs_where_two_fixes_set_the_same_values(
    files: Files, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    write(tmp_path / "in", files)
    (tmp_path / "tri.toml").write_text("[mesh]\ncorners = [3]\n")
    monkeypatch.chdir(tmp_path)
    lines = follow(["check", "in", "--rules", "tri.toml"], tmp_path, capsys)
    assert any(" fix " in line and " --all " in f"{line} " for line in lines)


@pytest.mark.slow
@pytest.mark.parametrize("mutation", MUTATIONS, ids=lambda mutation: mutation.name)
def test_each_command_printed_for_a_planted_defect_runs(
    mutation: Mutation, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    mutant = mutation.mutant(shot_of(next(body for body in BODIES if mutation.fits(body)), 1), 1)
    write(tmp_path / "in", mutant.files)
    monkeypatch.chdir(tmp_path)
    stated = mutant.settings
    words = ["--frames", "{}-{}".format(*stated["frames"])] if "frames" in stated else []
    words += ["--size", str(stated["size"])] if "size" in stated else []
    lines = follow(["check", "in", *words], tmp_path, capsys)
    assert lines, "an error or a warning has a next step"
    assert all((tmp_path / "in_fixed").is_dir() for line in lines if " fix " in line and "--dry-run" not in line)


@pytest.mark.parametrize("words", [["check"], ["watch", "--until", "1"]], ids=lambda words: words[0])
@pytest.mark.parametrize("name", ["manta_broken", "kelp_broken"])
def test_each_command_printed_for_the_demo_runs(
    name: str,
    words: list[str],
    demo: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    shutil.copytree(demo, tmp_path / "harbour")
    monkeypatch.chdir(tmp_path / "harbour")
    assert follow([*words, name], tmp_path / "harbour", capsys)
    assert (tmp_path / "harbour" / f"{name}_fixed").is_dir()


def test_each_command_printed_for_several_sequences_runs(
    demo: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    shutil.copytree(demo, tmp_path / "harbour")
    monkeypatch.chdir(tmp_path)
    lines = follow(["check", "harbour"], tmp_path, capsys)
    assert [line for line in lines if "--with align-outlier" in line]


def test_of_the_fixes_that_are_named_each_gets_a_step(demo: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`neutral-material` is left out, because it would only replace a warning on frame 18 with another warning."""
    words = ["fix", str(demo / "manta_broken"), "--dry-run"]
    assert main(words) == 1
    effect = capsys.readouterr().out.splitlines()[-1]
    assert effect == "      (adds align-outlier to this plan; preview with --dry-run)"
    assert main([*words, "--all"]) == 1
    plan = capsys.readouterr().out
    assert "  5 align-outlier (changes data: estimates), frames 13, 16\n" in plan
    assert "  refused: neutral-material, frame 18: left out because it would replace" in plan


@pytest.mark.parametrize("kind", KINDS)
def test_the_next_command_has_something_to_do(kind: str, tmp_path: Path) -> None:
    result = inspect_folder(write(tmp_path, KINDS[kind]))
    lines = next_steps(result, tmp_path, Settings())
    if not lines:
        assert all(finding.severity.word == "note" for finding in result.inspections[0].findings)
        return
    assert lines[0].startswith("next: meshqc ")
    if " fix " not in lines[0]:
        assert make_plan(result, all_choices(result)).steps == ()
        return
    every = " --all " in f"{lines[0]} "
    plan = make_plan(result, all_choices(result) if every else lossless_choices(result))
    if "refused" in lines[1]:
        assert plan.steps == ()
    if "refused" in lines[1] or "tries" in lines[1]:
        assert plan.steps or plan.sequences[0].refused
    else:
        assert plan.steps


@pytest.mark.parametrize("name", ["manta_broken", "kelp_broken"])
def test_the_next_command_of_the_demo_has_something_to_do(demo: Path, name: str) -> None:
    result = inspect_folder(demo / name)
    assert "--all" not in next_steps(result, demo / name, Settings())[0]
    assert make_plan(result, lossless_choices(result)).steps
