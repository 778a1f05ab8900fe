"""Tests of `colour-map-slot`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.images import image_file, spots
from tests.helpers.materials import ALL, NORMALS, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look


def test_only_an_ambient_map(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "colour-map-slot", with_library("Kd 1 1 1", "map_Ka skin.png"))
    assert said == [("colour-map-slot", "warning", ALL)]
    assert [where.line for where in finding_of(inspection, "colour-map-slot").where] == [3]


@pytest.mark.parametrize(
    "lines", [("map_Ka skin.png", "map_Kd skin.png"), ("map_Ka a.png",), ("map_Ke skin.png",), ("norm b.png",)]
)
def test_what_is_usual(lines: tuple[str, ...], tmp_path: Path) -> None:
    """A grey map in the slot for the ambient colour is an occlusion map, so it is not reported as a colour map."""
    files = with_library(*lines, a=image_file(spots()[..., 0]), b=NORMALS)
    assert heard(look(tmp_path, files)) == []
