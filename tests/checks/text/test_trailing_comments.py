"""Tests of `trailing-comments`. trimesh, meshio and tinyobjloader reject files with trailing comments (observed)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import FACE, TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": TEXT.replace(FACE, FACE + b" # nose")}
    said, inspection = broken(tmp_path, "trailing-comments", files)
    assert said == [("trailing-comments", "warning", [5.0])]
    same_form(inspection, "trailing-comments", "trailing-comment")
