"""Tests of `meshqc check` in a separate process."""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path

import pytest

from tests.helpers.command import assert_one_sentence, digests, harmful, meshqc, strict_json
from tests.helpers.hostile.evil_shots import HOSTILE, hostile

__all__ = ["hostile"]

KELP = ("--frames", "1-15", "--size", "1.8")


def test_a_healthy_sequence(demo: Path) -> None:
    run = meshqc("check", demo / "manta")
    assert (run.returncode, run.stderr) == (0, "")
    assert "24 files, frames 1-24" in run.stdout
    assert "600 vertices, 598 faces, 670 UVs" in run.stdout
    assert run.stdout.splitlines()[-1].startswith("verdict: clean")


def test_all_of_the_kelp_is_told_in_one_screen(demo: Path) -> None:
    run = meshqc("check", demo / "kelp_broken", *KELP)
    assert run.returncode == 1
    lines = run.stdout.splitlines()
    assert len(lines) <= 40, "the report no longer fits one screen: shorten a text of its findings"
    heads = [line.split()[2].rstrip(",") for line in lines if re.match(r"[EWn] (error|warning|note) ", line)]
    assert sorted(heads) == ["library-missing", "missing-frames", "no-uvs", "scale-suspect", "texture-missing"]
    assert lines[-3] == "verdict: 5 errors, 0 warnings, 0 notes"
    assert lines[-2].startswith("next: meshqc fix ")
    assert "--frames 1-15 --size 1.8" in lines[-2]


@pytest.mark.parametrize("name", ["fix", "-v", "kelp 'two'"])
def test_what_is_said_to_come_next_runs_as_it_stands(name: str, tmp_path: Path, demo: Path) -> None:
    shutil.copytree(demo / "kelp_broken", tmp_path / name)
    line = meshqc("check", f"./{name}", *KELP, cwd=tmp_path).stdout.splitlines()[-2]
    run = meshqc(*shlex.split(line.removeprefix("next: meshqc ")), cwd=tmp_path)
    assert (run.returncode, run.stderr) == (1, ""), "what exact fixes leave is still there"
    assert (tmp_path / f"{name}_fixed").is_dir()


@pytest.mark.parametrize(
    ("words", "kept"),
    [
        ([], ""),
        (["--no-rules"], " --no-rules"),
        (["--rules", "house/meshqc.toml"], " --rules {}/house/meshqc.toml"),
        (["--rules", "kelp/meshqc.toml"], ""),
        (["--reference", "2", "--size", "1.23456789"], " --size 1.23456789 --reference 2"),
    ],
)
def test_what_comes_next_is_judged_in_the_same_way(words: list[str], kept: str, tmp_path: Path, demo: Path) -> None:
    shutil.copytree(demo / "kelp_broken", tmp_path / "kelp")
    (tmp_path / "house").mkdir()
    for folder in ("kelp", "house"):
        (tmp_path / folder / "meshqc.toml").write_text("[mesh]\ncorners = [4]\n")
    kept = kept.format(tmp_path)
    (line,) = (one for one in meshqc("check", "kelp", *words, cwd=tmp_path).stdout.splitlines() if "next: " in one)
    assert line == f"next: meshqc fix kelp --output kelp_fixed{kept}"
    watched = meshqc("watch", "kelp", "--quiet-for", "1", *words, cwd=tmp_path).stderr
    assert f"next: meshqc check kelp{kept}\n" in watched


def test_the_demo_says_how_it_is_opened_where_its_folder_is_called_as_a_command(tmp_path: Path) -> None:
    assert meshqc("demo", "demo", cwd=tmp_path).stdout.splitlines()[-1] == "next: meshqc ./demo"


def test_text_is_no_wider_than_80_cells_but_for_what_is_to_be_copied(demo: Path) -> None:
    for name in ("manta", "manta_broken", "kelp_broken"):
        lines = meshqc("check", name, *KELP, cwd=demo).stdout.splitlines()
        assert [line for line in lines if len(line) > 80 and not line.startswith("next: ")] == []


def test_fail_on(demo: Path) -> None:
    assert meshqc("check", demo / "manta", "--fail-on", "note").returncode == 0
    codes = [meshqc("check", demo / "manta_broken", "--fail-on", level).returncode for level in ("note", "never")]
    assert codes == [1, 0]


def test_fail_on_counts_from_that_severity_up(tmp_path: Path, demo: Path) -> None:
    for number in (1, 2):
        (tmp_path / f"kelp.{number}.obj").write_bytes((demo / "kelp_broken/kelp_rest.obj").read_bytes())
    (tmp_path / "kelp.mtl").write_text("newmtl kelp_leaf\n")  # causes material-undefined, a warning
    for path in tmp_path.glob("*.obj"):
        path.write_bytes(path.read_bytes().replace(b"mtllib Export\\KELP.MTL", b"mtllib kelp.mtl"))
    found = strict_json(meshqc("check", tmp_path, "--json").stdout)["verdict"]
    assert found["errors"] == 0
    assert found["warnings"] == 1
    codes = [meshqc("check", tmp_path, "--fail-on", level).returncode for level in ("error", "warning")]
    assert codes == [0, 1]


def test_nothing_to_inspect_is_not_health(tmp_path: Path) -> None:
    run = meshqc("check", tmp_path)
    assert run.returncode == 2
    assert_one_sentence(run.stderr)
    document = meshqc("check", tmp_path, "--json")
    assert document.returncode == 2
    assert strict_json(document.stdout)["sequences"] == []


def test_no_folder(tmp_path: Path) -> None:
    run = meshqc("check", tmp_path / "gone")
    assert (run.returncode, run.stdout) == (2, "")
    assert_one_sentence(run.stderr)


def test_a_reference_that_does_not_exist(demo: Path) -> None:
    run = meshqc("check", demo / "manta", "--reference", "99")
    assert run.returncode == 2
    assert_one_sentence(run.stderr)
    assert "99" in run.stderr


def test_the_source_is_only_read(demo: Path) -> None:
    before = digests(demo)
    for words in (("--json",), ()):
        meshqc("check", demo, *KELP, *words)
    assert digests(demo) == before


def test_a_folder_called_check(tmp_path: Path, demo: Path) -> None:
    (tmp_path / "check").symlink_to(demo / "manta")
    run = meshqc("check", "check", cwd=tmp_path)
    assert run.returncode == 0
    assert "24 files" in run.stdout


def test_hostile_names_leave_no_control_byte(hostile: Path) -> None:
    run = meshqc("check", hostile)
    assert run.returncode == 1
    assert harmful(run.stdout + run.stderr) == []
    assert "\\x1b" in run.stdout


def test_json_keeps_every_byte_of_a_name(hostile: Path) -> None:
    run = meshqc("check", hostile, "--json")
    assert run.stdout.isascii()
    (sequence,) = strict_json(run.stdout)["sequences"]
    written = [frame["file"].encode("utf-8", "surrogateescape") for frame in sequence["frames"]]
    assert written == [HOSTILE + b"0001.obj", HOSTILE + b"0003.obj"]
    assert sequence["missing"] == [2]


def test_ascii_where_the_terminal_has_nothing_else(tmp_path: Path, demo: Path) -> None:
    for number in (1, 2, 3):
        (tmp_path / f"r\u00e9cif.{number}.obj").write_bytes((demo / f"manta/manta.000{number}.obj").read_bytes())
    plain = meshqc("check", tmp_path, PYTHONIOENCODING="ascii")
    assert plain.stdout.isascii()
    assert "r\\xe9cif" in plain.stdout
    assert "r\u00e9cif" in meshqc("check", tmp_path).stdout
