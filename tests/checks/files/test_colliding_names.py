"""Tests of `colliding-names`. Unicode Standard Annex 15 defines the forms NFC and NFD. The differences that file
systems ignore are listed from memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look, look_at_all, shot

COMPOSED, DECOMPOSED = "k\u00e9lp", "ke\u0301lp"
SKIN = MATERIALS["skin.png"]


def test_a_texture_beside_a_file_in_another_letter_case(tmp_path: Path) -> None:
    files = with_library("map_Kd maps/skin.png") | {"maps/skin.png": SKIN, "maps/Skin.PNG": SKIN}
    said, inspection = broken(tmp_path, "colliding-names", files)
    assert said == [("colliding-names", "warning", ALL)]
    finding = finding_of(inspection, "colliding-names")
    assert finding.message == "`maps/skin.png` differs only in letter case from `Skin.PNG` in the same folder"
    assert [str(where.file) for where in finding.where] == ["maps/skin.png"]


def test_a_library_beside_a_file_in_another_letter_case(tmp_path: Path) -> None:
    said, _ = broken(tmp_path, "colliding-names", shot() | {"MANTA.mtl": MATERIALS["manta.mtl"]})
    assert said == [("colliding-names", "warning", ALL)]


@pytest.mark.parametrize(
    ("other", "difference"),
    [("K\u00c9LP", "letter case"), (DECOMPOSED, "the encoding of accents")],
)
def test_frames_of_two_sequences(tmp_path: Path, other: str, difference: str) -> None:
    frames = {name: data for name, data in shot().items() if name.startswith("manta.")}
    both = {name.replace("manta", COMPOSED): data for name, data in shot().items()}
    both |= {name.replace("manta", other): data for name, data in frames.items() if name < "manta.0004"}
    first, second = sorted(look_at_all(tmp_path, both).inspections, key=lambda one: len(one.series.facts))
    for one in (first, second):
        finding = finding_of(one, "colliding-names")
        assert [int(number) for number in finding.frames] == [1, 2, 3]
        assert finding.numbers == {"difference": difference, "files": 3}
        assert f"differ only in {difference} from other files" in finding.message


@pytest.mark.parametrize(
    "other", ["maps/skin2.png", "maps/sk\u00edn.png", "Maps/skin.png", "SKIN.png", "maps/skin.tga"]
)
def test_other_names_and_other_folders_do_not_collide(tmp_path: Path, other: str) -> None:
    files = with_library("map_Kd maps/skin.png") | {"maps/skin.png": SKIN, other: SKIN}
    assert heard(look(tmp_path, files)) == []


def test_files_that_no_frame_names_do_not_matter(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot() | {"notes.txt": b"", "Notes.txt": b""})) == []


def test_two_files_with_one_number_are_reported_by_another_check(tmp_path: Path) -> None:
    files = shot()
    said = heard(look(tmp_path, files | {"manta.0005.OBJ": files["manta.0005.obj"]}))
    assert said == [("repeated-frames", "warning", [5.0])]
