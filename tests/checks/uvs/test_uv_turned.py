"""uv-turned: lettering on a sheet that stands upright and looks to the front reads upright, sideways, upside down."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.images import image_file, spots
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look
from tests.helpers.uv_sheets import SHEET as WIDE
from tests.helpers.uv_sheets import sheets
from tests.helpers.uvs import unpainted

FRAMES = [1.0, 2.0, 3.0]
SHEET = WIDE.edit(positions=WIDE.positions * [9 / 16, 1, 1])
SQUARE = {"skin.png": image_file(spots(32, 32))}
GOOD = sheets(SHEET) | SQUARE


def turned(degrees: int) -> dict[str, bytes]:
    """The sheet with its UVs turned to the right about the middle of the texture: the picture turns to the left."""
    angle = np.radians(-degrees)
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return sheets(SHEET.edit(uvs=(SHEET.uvs - 0.5) @ turn.T + 0.5)) | SQUARE


@pytest.mark.parametrize(
    ("degrees", "words"),
    [(90, "turned by 90 degrees to the left"), (180, "upside down"), (270, "turned by 90 degrees to the right")],
)
def test_a_quarter_turn_and_more(degrees: int, words: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-turned", turned(degrees), good=GOOD)
    assert said == [("uv-turned", "note", FRAMES)]
    finding = finding_of(inspection, "uv-turned")
    assert words in finding.message
    assert finding.fixes == ("uv-turn",)


def test_a_small_turn_is_a_pose(tmp_path: Path) -> None:
    files = sheets(SHEET.edit(positions=SHEET.positions @ [[0.8, 0.6, 0], [-0.6, 0.8, 0], [0, 0, 1]])) | SQUARE
    assert heard(look(tmp_path, files)) == []


def test_without_a_texture_nothing_is_measured(tmp_path: Path) -> None:
    inspection = look(tmp_path, unpainted(turned(90)))
    assert heard(inspection) == []
    assert "uv-turned" in dict(inspection.verdict.skipped)
