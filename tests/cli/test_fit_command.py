"""Tests of `meshqc fit`. A sheet of 16 by 9 needs a texture of 16 by 9 (common practice, no source)."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from tests.helpers.command import assert_one_sentence, digests, harmful, meshqc, strict_json
from tests.helpers.sequences import frames, write
from tests.helpers.shapes import remapped, sheet_mesh, wall

SHEET = sheet_mesh(wall(16, 9), 4, 5).edit(state=("usemtl skin",))


@pytest.fixture(scope="module")
def sheet(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return write(tmp_path_factory.mktemp("sheet"), frames({1: SHEET, 2: SHEET, 3: SHEET}))


def test_a_sheet_in_figures(sheet: Path) -> None:
    before = digests(sheet)
    run = meshqc("fit", sheet, "--caption", "MANTA", "--caption", "HARBOUR AQUARIUM " * 12, "--no-cache")
    assert (run.returncode, run.stderr) == (0, "")
    assert "aspect    1.7778 wide to 1 high" in run.stdout
    assert "size      1920 x 1080 pixels" in run.stdout
    assert "coverage  100% of the texture" in run.stdout
    assert "lettering reads upright" in run.stdout
    assert "|RRR\n" in run.stdout
    assert "readable in all frames" in run.stdout
    assert '"MANTA": letters' in run.stdout
    assert "readable in no frame: too small (12" in run.stdout
    assert max(map(len, run.stdout.splitlines())) <= 80
    assert digests(sheet) == before


@pytest.mark.parametrize(
    ("change", "aspect", "words"),
    [
        (lambda u, v: (v, 1 - u), "0.5625", "rotated 90 degrees counter-clockwise"),
        (lambda u, v: (1 - u, v), "1.7778", "mirrored"),
        (lambda u, v: (1 - u, 1 - v), "1.7778", "upside down"),
    ],
)
def test_turned_and_mirrored_are_said(tmp_path: Path, change, aspect: str, words: str) -> None:
    mesh = remapped(SHEET, change)
    run = meshqc("fit", write(tmp_path, frames({1: mesh, 2: mesh})))
    assert f"aspect    {aspect} wide" in run.stdout
    assert f"lettering reads {words}" in run.stdout.replace("\n              ", " ")
    assert "readable in no frame" in run.stdout


def test_islands_that_are_not_listed_are_counted(tmp_path: Path) -> None:
    """One island covers only a ten-thousandth of the texture, so it is not listed."""
    bit = np.array([[0, 0], [0.01, 0], [0.01, 0.01], [0, 0.01]])
    first = tuple((v, len(SHEET.uvs) + corner, vn) for corner, (v, _, vn) in enumerate(SHEET.faces[0]))
    mesh = SHEET.edit(uvs=np.concatenate([SHEET.uvs, bit]), faces=(first, *SHEET.faces[1:]))
    run = meshqc("fit", write(tmp_path, frames({1: mesh, 2: mesh})))
    assert "islands   2, of which the 1 largest are listed" in run.stdout


def test_each_number_of_a_box_is_explained(tmp_path: Path) -> None:
    """The sheet covers the texture from (0.5, 0.25) to (0.75, 0.75). Lettering is safe on nearly the whole sheet."""
    mesh = remapped(SHEET, lambda u, v: (0.5 + 0.25 * u, 0.25 + 0.5 * v))
    said = " ".join(meshqc("fit", write(tmp_path, frames({1: mesh, 2: mesh}))).stdout.split())
    width, height = (int(one) for one in re.findall(r"size (\d+) x (\d+) pixels", said)[0])
    wide, high, left, bottom, *sides = re.findall(
        r"in a box (\d+) pixels wide and (\d+) high, (\d+) from the left and (\d+) from the bottom of the texture "
        r"\(UV left ([\d.]+), bottom ([\d.]+), right ([\d.]+), top ([\d.]+)\)",
        said,
    )[0]
    assert [float(one) for one in sides] == pytest.approx([0.5, 0.25, 0.75, 0.75], abs=0.01)
    assert [int(left) / width, int(bottom) / height] == pytest.approx([0.5, 0.25], abs=0.01)
    assert [int(wide) / width, int(high) / height] == pytest.approx([0.25, 0.5], abs=0.02)


def test_a_material_that_was_not_stated_is_named_with_the_option(demo: Path) -> None:
    text = " ".join(meshqc("fit", demo / "buoy").stdout.split())
    assert re.search(
        r"of buoy_\w+, 1 of 2 materials with space for lettering \(to choose another, use --material NAME\)", text
    )
    assert "--material" not in meshqc("fit", demo / "buoy", "--material", "buoy_label").stdout
    assert "--material" not in meshqc("fit", demo / "manta").stdout


def test_the_material_in_which_lettering_is_readable_longest_is_taken(demo: Path) -> None:
    def lettering(*words: str) -> dict[str, Any]:
        (sequence,) = strict_json(meshqc("fit", demo / "buoy", "--json", *words).stdout)["sequences"]
        return sequence["lettering"]

    label, body = (lettering("--material", name) for name in ("buoy_label", "buoy_body"))
    assert label["obstacle"].count(None) > body["obstacle"].count(None)
    assert lettering() == label


def test_json_has_the_same_figures(sheet: Path) -> None:
    run = meshqc("fit", sheet, "--json", "--density", "60", "--caption", "MANTA")
    (sequence,) = strict_json(run.stdout)["sequences"]
    (material,) = sequence["materials"]
    assert material["aspect"] == pytest.approx(16 / 9, abs=1e-6)
    assert material["size"] == [960, 540]
    assert np.array(material["texel_density"]) == pytest.approx(60)
    assert material["uv_coverage"] == pytest.approx(1)
    assert material["text_direction"]["words"] == "upright"
    assert material["islands"][0]["lettering_box"]["left"] == pytest.approx(0, abs=0.01)
    assert sequence["camera"]["picture"] == [1920, 1080]
    lettering = sequence["lettering"]
    assert lettering["readable"] == [[1, 3]]
    assert lettering["obstacle"] == [None] * 3
    assert lettering["visible"] == [1.0] * 3
    assert lettering["captions"][0]["text"] == "MANTA"
    assert lettering["captions"][0]["readable"] == [[1, 3]]


def test_the_demo(demo: Path) -> None:
    """The expected results are those of tests/lettering/test_texture_fit.py."""
    run = meshqc("fit", demo, "--json")
    document = strict_json(run.stdout)
    found = {one["name"]: one for one in document["sequences"]}
    (skin,) = found["manta"]["materials"]
    assert [island["text_direction"]["words"] for island in skin["islands"]] == ["upside down", "upright"]
    assert skin["maps"][0]["verdicts"][0].startswith("too small")
    assert [one["pattern"] for one in document["refused"]] == ["kelp_broken.####.obj"]
    assert "kelp_broken.####.obj: the faces have no UVs" in run.stderr
    assert run.returncode == 0


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--density", "60", "--fill-width", "100"], "can't be combined with"),
        (["--lettering-box", "0.5,0,0.1,1"], "LEFT,BOTTOM,RIGHT,TOP"),
        (["--lettering-box", "2,2,3,3"], "no surface under the stated lettering box"),
        (["--from", "0,0,0"], "a direction"),
        (["--from", "nan,0,1"], "a direction"),
        (["--picture", "99999x99999"], "at most 8,388,608 pixels in total"),
        (["--picture", "0x10"], "width and height"),
        (["--fov", "180"], "below 180"),
        (["--front", "y"], "the front axis must be perpendicular to the up axis"),
        (["--material", "tail"], "no material with UVs is named `tail`"),
        (["--stretch", "1"], "above 1"),
    ],
)
def test_what_cannot_be_done_is_said_in_a_sentence(sheet: Path, words: list[str], said: str) -> None:
    run = meshqc("fit", sheet, *words)
    assert run.returncode == 2
    assert_one_sentence(run.stderr)
    assert said in run.stderr


def test_without_uvs_nothing_is_said_but_why(demo: Path) -> None:
    run = meshqc("fit", demo / "kelp_broken")
    assert (run.returncode, run.stdout) == (2, "")
    assert_one_sentence(run.stderr)


def test_hostile_names_and_captions_stay_harmless(tmp_path: Path) -> None:
    mesh = SHEET.edit(state=("usemtl sk\x1b[31min\u202e",))
    run = meshqc("fit", write(tmp_path, frames({1: mesh, 2: mesh})), "--caption", "a\x1b]0;x\x07b\u202e")
    assert run.returncode == 0
    assert harmful(run.stdout) == []
