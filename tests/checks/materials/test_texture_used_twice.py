"""Tests of `texture-used-twice`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, NORMALS, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look


@pytest.mark.parametrize("kind", ["norm", "bump", "map_Bump"])
def test_normals_as_colour_too(kind: str, tmp_path: Path) -> None:
    files = with_library("map_Kd a.png", f"{kind} a.png", a=NORMALS)
    said, inspection = broken(tmp_path, "texture-used-twice", files)
    assert said == [("texture-used-twice", "error" if kind == "norm" else "warning", ALL)]
    assert [where.line for where in finding_of(inspection, "texture-used-twice").where] == [2, 3]


def test_a_colour_picture_as_normals_too(tmp_path: Path) -> None:
    files = with_library("map_Kd skin.png", "norm skin.png")
    assert heard(look(tmp_path, files)) == [("texture-used-twice", "error", ALL)]


@pytest.mark.parametrize("line", ["bump -bm 0.2 skin.png", "map_Ks skin.png", "norm a.png"])
def test_images_that_may_serve_twice(line: str, tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library("map_Kd skin.png", line, a=NORMALS))) == []
