"""Tests of `map-aspect`.

The wing is 4 units wide and 1.5 units deep. It has two UV islands, each 2 units wide on the wing, and 0.4 wide and 1
high in the texture. On the flat wing, one unit of u is therefore 2 / 0.4 = 5 units long, and one unit of v is 1.5 units
long. For square pixels, the aspect ratio must be 5 / 1.5 = 3.3. The flapping wing requires a little more.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.images import image_file, normals, spots
from tests.helpers.materials import ALL, with_library, with_skin
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Heard, finding_of, frames, heard, look
from tests.helpers.shapes import sheet_mesh, wall


@pytest.mark.parametrize(("width", "height", "squeeze"), [(64, 64, 1 / 3.4), (200, 20, 10 / 3.4)])
def test_a_picture_in_other_proportions_than_the_surface(
    width: int, height: int, squeeze: float, tmp_path: Path
) -> None:
    said, inspection = broken(tmp_path, "map-aspect", with_skin(image_file(spots(width, height))))
    assert said == [("map-aspect", "note", ALL)]
    numbers = finding_of(inspection, "map-aspect").numbers
    assert numbers["kind"] == "squeezed"
    assert numbers["squeeze"] == pytest.approx(squeeze, rel=0.05)


def test_maps_of_one_material_in_different_proportions(tmp_path: Path) -> None:
    files = with_library("map_Kd skin.png", "norm a.png", a=image_file(normals(64, 64)))
    said, inspection = broken(tmp_path, "map-aspect", files)
    assert said == [("map-aspect", "note", ALL)]
    assert finding_of(inspection, "map-aspect").numbers["kind"] == "unlike"


@pytest.mark.parametrize("image", [normals(32, 10), normals(256, 80), normals()[:1, :1]])
def test_other_sizes_in_the_same_proportions(image: object, tmp_path: Path) -> None:
    files = with_library("map_Kd skin.png", "norm a.png", a=image_file(image))  # type: ignore[arg-type]
    assert heard(look(tmp_path, files)) == []


@pytest.mark.parametrize(("width", "unlike"), [(65, False), (66, True)])
def test_how_much_two_maps_may_differ_in_their_aspects(width: int, unlike: bool, tmp_path: Path) -> None:
    """The colour map is 64 pixels wide. The normal map has the same height, but is 1.6 % or 3.1 % wider. Up to 2 % is
    allowed (MAP_ASPECTS)."""
    files = with_library("map_Kd skin.png", "norm a.png", a=image_file(normals(width, 20)))
    assert bool(heard(look(tmp_path, files))) is unlike


SQUEEZED = [("map-aspect", "note", [1.0, 2.0])]


@pytest.mark.parametrize(("width", "said"), [(58, SQUEEZED), (59, []), (64, []), (70, []), (71, SQUEEZED)])
def test_a_sheet_wants_its_own_aspect_throughout(width: int, said: list[Heard], tmp_path: Path) -> None:
    """By hand: a texture 48 pixels high must be 64 pixels wide to fit the wall. Its width may differ by a factor of 1.1
    (MAP_SQUEEZED_THROUGHOUT), so the limits are 64 / 1.1 = 58.2 and 64 * 1.1 = 70.4 pixels."""
    sheet = sheet_mesh(wall(4, 3), 4, 4).edit(state=("mtllib a.mtl", "usemtl skin"))
    files = frames({1: sheet, 2: sheet}) | {"a.mtl": b"newmtl skin\nmap_Kd a.png\n"}
    found = heard(look(tmp_path, files | {"a.png": image_file(spots(width, 48))}))
    assert [one for one in found if one[0] == "map-aspect"] == said


@pytest.mark.parametrize(("width", "said"), [(44, SQUEEZED), (46, [])])
def test_how_far_a_map_may_be_off_on_a_sheet_that_is_stretched_unevenly(
    width: int, said: list[Heard], tmp_path: Path
) -> None:
    """The parts of the sheet require different aspect ratios. At the median ratio, a texture 48 pixels high must be
    67.8 pixels wide (stated by the finding itself). The width may be smaller by a factor of up to 1.5 (MAP_SQUEEZED),
    so the limit is 45.2 pixels."""
    sheet = sheet_mesh(lambda u, v: (4 * u + 1.6 * (u * u - u), 3 * v, 0.0 * u), 20, 4)
    sheet = sheet.edit(state=("mtllib a.mtl", "usemtl skin"))
    files = frames({1: sheet, 2: sheet}) | {"a.mtl": b"newmtl skin\nmap_Kd a.png\n"}
    found = heard(look(tmp_path, files | {"a.png": image_file(spots(width, 48))}))
    assert [one for one in found if one[0] == "map-aspect"] == said
