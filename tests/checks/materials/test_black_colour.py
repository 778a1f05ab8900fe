"""Tests of `black-colour`. A colour map is multiplied by Kd (MTL File Formats 4.2, 1995)."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look


@pytest.mark.parametrize("colour", ["0 0 0", "0", "0.000 0.000 0.000", "0e0 -0 .0"])
def test_black_under_a_map(colour: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "black-colour", with_library(f"Kd {colour}", "map_Kd skin.png"))
    assert said == [("black-colour", "warning", ALL)]
    assert [where.line for where in finding_of(inspection, "black-colour").where] == [2]


@pytest.mark.parametrize(
    "lines",
    [
        ("Kd 0 0 0",),
        ("Kd 0 0 0.1", "map_Kd skin.png"),
        ("Kd 0 0 0", "map_Ks skin.png"),
        ("map_Kd skin.png",),
        ("Kd spectral blue.rfl", "map_Kd skin.png"),
        ("Kd 0 0 0", "map_Kd skin.png", "Kd 1 1 1"),
        ("Kd 1 1 1", "map_Kd skin.png", "newmtl eye", "Kd 0 0 0", "map_Kd skin.png"),
    ],
)
def test_no_black_under_a_map(lines: tuple[str, ...], tmp_path: Path) -> None:
    assert {check for check, _, _ in heard(look(tmp_path, with_library(*lines)))} <= {"unused-materials"}
