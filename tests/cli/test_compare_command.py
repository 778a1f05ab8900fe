"""Tests of `meshqc compare`."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.helpers.command import assert_one_sentence, digests, harmful, meshqc

# (3, 4, 5) is a right triangle (Pythagoras): the third of four vertices moves by 5, which is 1.25 on average.
SQUARE = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nf 1 2 3 4\n"
DRAWN = SQUARE.replace(b"v 1 1 0", b"v 4 5 0")


@pytest.fixture
def shot(tmp_path: Path) -> Path:
    folder = tmp_path / "jelly"
    folder.mkdir()
    for number, content in enumerate((SQUARE, SQUARE, DRAWN, DRAWN, SQUARE[:20]), 1):
        (folder / f"jelly.{number}.obj").write_bytes(content)
    return folder


def test_frames_against_one_of_them(shot: Path) -> None:
    run = meshqc("compare", shot, "--against", "1", "--frame", "2", "--frame", "3", "--frame", "4")
    assert (run.returncode, run.stderr) == (1, "")
    assert run.stdout.splitlines() == [
        "jelly.#.obj compared with frame 1",
        "  frame 2",
        "    = identical",
        "  frames 3, 4",
        "    x vertices (v)   1 of 4 differs, mean 1.25, largest 5 units: vertex 3, line",
        "                     3",
        "    = the same       libraries 0, UVs (vt) 0, normals (vn) 0, face vertices 1,",
        "                     face UVs 1, face normals 1, materials 1",
    ]


def test_the_exit_code_says_whether_something_differs(shot: Path) -> None:
    assert meshqc("compare", shot, "--against", "1", "--frame", "2").returncode == 0
    cut = meshqc("compare", shot, "--against", "1")
    assert cut.returncode == 2
    assert "can't be read: jelly.5.obj" in cut.stdout
    assert "frames 3, 4" in cut.stdout, "the others are compared all the same"


def test_frames_that_a_fix_added_are_listed(demo: Path, tmp_path: Path) -> None:
    folder, out = tmp_path / "manta", tmp_path / "fixed"
    shutil.copytree(demo / "manta", folder)
    for number in (9, 15):
        (folder / f"manta.{number:04}.obj").unlink()
    assert meshqc("fix", folder, "--output", out, "--all").returncode == 0
    run = meshqc("compare", folder, "--corrected", out)
    assert run.returncode == 1
    assert run.stdout.splitlines()[-1] == "manta.####.obj: frames 9, 15 added by a fix; absent from the source"
    assert "added by a fix" not in meshqc("compare", folder, "--corrected", out, "--frame", "8").stdout


def test_a_source_with_its_corrected_folder(demo: Path, tmp_path: Path) -> None:
    before = digests(demo)
    assert meshqc("fix", demo / "kelp_broken", "--output", tmp_path / "fixed").returncode == 1
    run = meshqc("compare", demo / "kelp_broken", "--corrected", tmp_path / "fixed")
    assert run.returncode == 1
    assert run.stdout.splitlines()[1:3] == [
        "  all frames",
        "    x libraries      1 of 1 differs: library 1, line 3",
    ]
    (tmp_path / "fixed" / "kelp_broken.0003.obj").unlink()
    assert (
        "  frame 3\n    the frame to compare it with is missing\n"
        in meshqc("compare", demo / "kelp_broken", "--corrected", tmp_path / "fixed").stdout
    )
    assert digests(demo) == before


def test_a_delivery_with_other_vertices_is_refused(demo: Path, tmp_path: Path) -> None:
    for form, words in (
        (
            "glb",
            "manta.0001.glb can't be compared vertex by vertex with manta.0001.obj, because the vertices and faces of",
        ),
        ("usd", "manta.usdc is a scene file, which `compare` can't read; write its frames to a folder with `unpack`, "),
    ):
        assert meshqc("fix", demo / "manta", "--as", form, "--output", tmp_path / form).returncode == 0
        run = meshqc("compare", demo / "manta", "--corrected", tmp_path / form)
        assert (run.returncode, run.stdout) == (2, "")
        assert_one_sentence(run.stderr)
        assert words in run.stderr
    assert meshqc("fix", demo / "manta", "--as", "ply", "--output", tmp_path / "ply").returncode == 0
    run = meshqc("compare", demo / "manta", "--corrected", tmp_path / "ply", "--frame", "3")
    assert "vertices (v)   600 instead of 670" in run.stdout, "PLY adds the split vertices after the others"


def test_a_copy_is_all_the_same(demo: Path, tmp_path: Path) -> None:
    shutil.copytree(demo / "manta", tmp_path / "copy")
    run = meshqc("compare", demo / "manta", "--corrected", tmp_path / "copy")
    assert run.returncode == 0
    assert run.stdout.splitlines()[1:] == ["  all frames", "    = identical"]


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("--against", "99"),
        ("--against", "1", "--frame", "1"),
        ("--against", "1", "--corrected", "."),
        ("--corrected", "nowhere\x1b[31m"),
    ],
)
def test_what_cannot_be_compared(shot: Path, words: tuple[str, ...]) -> None:
    run = meshqc("compare", shot, *words)
    assert (run.returncode, run.stdout) == (2, "")
    assert_one_sentence(run.stderr)
    assert not harmful(run.stderr.rstrip("\n"))


def test_a_folder_without_frames(tmp_path: Path) -> None:
    run = meshqc("compare", tmp_path, "--against", "1")
    assert run.returncode == 2
    assert_one_sentence(run.stderr)


def test_an_export_against_the_one_before(demo: Path, tmp_path: Path) -> None:
    before, after = tmp_path / "before" / "kelp", tmp_path / "kelp_v2"
    shutil.copytree(demo / "kelp_broken", before)
    shutil.copytree(demo / "kelp_broken", after)
    (before / "meshqc.toml").write_text('[mesh]\nuvs = "required"\n')
    (after / "kelp_broken.0003.obj").unlink()
    plan = tmp_path / "before" / "kelp.json"
    assert meshqc("fix", before, "--dry-run", "--save", plan, "--no-rules").returncode == 1
    run = meshqc("compare", after, "--with", before)
    assert run.returncode == 1
    assert "missing: frame 3" in run.stdout
    assert "unchanged: 11 frames" in run.stdout
    assert f"next: meshqc check {after} --rules {before}/meshqc.toml" in run.stdout
    assert f"  or: meshqc fix {after} --output {after}_fixed --plan {plan}" in run.stdout
    assert meshqc("check", after, "--rules", before / "meshqc.toml").returncode == 1
    assert meshqc("fix", after, "--output", f"{after}_fixed", "--plan", plan).returncode in (0, 1)
    assert harmful(run.stdout) == []


def test_the_same_export_is_no_worse(demo: Path) -> None:
    run = meshqc("compare", demo / "manta", "--with", demo / "manta", "--json")
    assert run.returncode == 0
    assert '"worse": false' in run.stdout
    assert meshqc("compare", demo / "manta", "--with", demo / "manta", "--frame", "3").returncode == 2
