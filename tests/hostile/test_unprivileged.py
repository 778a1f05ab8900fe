"""Tests of missing permissions, run as a user other than root."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.helpers.command import assert_one_sentence, strict_json
from tests.helpers.hostile.unprivileged import NOBODY, Unprivileged
from tests.helpers.sequences import shot, write

if not hasattr(os, "geteuid") or os.geteuid():
    pytest.skip("NOT TESTED: only root can become another user; run by another, permissions hold anyway",
                allow_module_level=True)  # fmt: skip


@pytest.fixture(scope="module")
def common() -> Iterator[Path]:
    """Return a folder that everyone may enter, with a shot that belongs to root."""
    folder = Path(tempfile.mkdtemp(prefix="meshqc-"))
    folder.chmod(0o755)
    write(folder / "in", shot(numbers=range(1, 11)))
    (folder / "own").mkdir()
    os.chown(folder / "own", NOBODY, NOBODY)
    yield folder
    shutil.rmtree(folder)


@pytest.fixture(scope="module")
def nobody(common: Path) -> Iterator[Unprivileged]:
    run = Unprivileged(common / "own")
    yield run
    run.close()


@pytest.fixture
def source(common: Path) -> Iterator[Path]:
    """Return a copy of the shot. The tests remove permissions from the copy."""
    folder = common / "sealed"
    shutil.copytree(common / "in", folder)
    yield folder
    shutil.rmtree(folder)


def seal(path: Path) -> None:
    path.chmod(0)


def test_an_unreadable_frame(nobody: Unprivileged, source: Path) -> None:
    seal(source / "manta.0007.obj")
    run = nobody("check", source, "--json")
    (sequence,) = strict_json(run.out)["sequences"]
    assert run.code == 1
    assert [one["frame"] for one in sequence["frames"] if one["vertices"] != 20] == [7]
    text = nobody("check", source).out
    assert "the file could not be opened: Permission denied" in text
    assert run.err == ""


@pytest.mark.parametrize(
    ("name", "said"),
    [
        ("manta.mtl", "library-text"),
        ("skin.png", "texture-damaged"),
    ],
)
def test_an_unreadable_library_or_texture(nobody: Unprivileged, source: Path, name: str, said: str) -> None:
    seal(source / name)
    document = strict_json(nobody("check", source, "--json").out)
    findings = {one["check"]: one["message"] for one in document["sequences"][0]["findings"]}
    assert said in findings
    assert "Permission denied" in findings[said], findings
    out = source.parent / "own" / f"copy of {name}"
    run = nobody("fix", source, "--output", out, "--with", "scale:factor=2")
    if name == "skin.png":  # a file that is copied unchanged
        assert run.code == 2
        assert "Permission denied" in run.err
        assert not out.exists()
    else:  # its materials are unknown, which is an error before and after the fix
        assert run.code == 1
        assert "library-missing" in (out / "meshqc-receipt.json").read_text()


def test_an_unreadable_folder(nobody: Unprivileged, source: Path) -> None:
    write(source / "deep", shot(numbers=range(1, 4)))
    seal(source / "deep")
    run = nobody("check", source)
    assert run.code == 0, run
    assert "left out: deep: a folder that can't be read (Permission denied)" in run.out
    seal(source)
    run = nobody("check", source)
    assert run.code == 2
    assert_one_sentence(run.err)
    assert "(Permission denied); ask its owner for permission to read it" in run.err
    source.chmod(0o755)


UNWRITABLE = {
    "fix": ("fix", "in", "--output", "out", "--with", "scale:factor=2"),
    "fix --save": ("fix", "in", "--output", "own/out", "--with", "scale:factor=2", "--save", "plan.json"),
    "check --report": ("check", "in", "--report", "page.html"),
    "fix --report": ("fix", "in", "--output", "own/out", "--report", "page.html"),
    "picture": ("picture", "in", "--output", "manta.png"),
    "template": ("template", "in", "--output", "own/manta.svg", "--output", "manta.png"),
}


@pytest.mark.parametrize("words", UNWRITABLE.values(), ids=UNWRITABLE)
def test_a_place_that_cannot_be_written_to_is_told_before_frames_are_read(
    nobody: Unprivileged, common: Path, words: tuple[str, ...]
) -> None:
    paths = ("in", "out", "own/out", "page.html", "plan.json", "manta.png", "own/manta.svg")
    run = nobody(*(common / word if word in paths else word for word in words))
    assert run.code == 2
    assert_one_sentence(run.err)
    assert run.err.endswith("can't be written to (Permission denied); choose another folder\n"), run.err
    assert run.out == ""
    assert not [name for name in run.opened if name.endswith((".obj", ".mtl"))], run.opened
    assert not [path for path in (common / "own").iterdir() if path.name.startswith("out")]


def test_merge_and_unpack_and_the_demo_tell_as_well(nobody: Unprivileged, common: Path) -> None:
    part = common / "own" / "part.json"
    part.write_text(nobody("check", common / "in", "--part", "1/1").out)
    run = nobody("merge", common / "in", part, "--report", common / "page.html")
    assert (run.code, run.out) == (2, "")
    assert "can't be written to (Permission denied)" in run.err
    (common / "own" / "kelp.usda").write_text("#usda 1.0\n")
    run = nobody("unpack", common / "own" / "kelp.usda", common / "frames")
    assert (run.code, run.out) == (2, "")
    assert "can't be written to (Permission denied)" in run.err
    run = nobody("demo", common / "harbour")
    assert run.code == 2
    assert_one_sentence(run.err)
    assert "Permission denied" in run.err


def test_without_a_cache_and_a_state_all_goes_on(nobody: Unprivileged, common: Path) -> None:
    usual = nobody("check", common / "in", "--json")
    assert (common / "own" / "cache" / "meshqc" / "facts.sqlite").is_file()
    for name, rights in (("theirs", 0o755), ("secret", 0o700)):
        for kind in ("cache", "state"):
            (common / name / kind / "meshqc").mkdir(parents=True)
        (common / name).chmod(rights)
        changes = {f"XDG_{kind}_HOME": str(common / name / kind.lower()) for kind in ("CACHE", "STATE")}
        run = nobody("check", common / "in", "--json", **changes)
        assert (run.code, run.out, run.err) == (usual.code, usual.out, "")
        assert not list((common / name / "cache" / "meshqc").iterdir())
    run = nobody("check", common / "in", "--json", XDG_CACHE_HOME=str(common / "gone"))
    assert (run.code, run.out, run.err) == (usual.code, usual.out, "")
