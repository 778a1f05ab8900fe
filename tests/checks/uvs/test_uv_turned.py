"""Tests of `uv-turned`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.broken.uvs import SHEET, UV_SQUARE, layout_turned
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look
from tests.helpers.uv_sheets import sheets
from tests.helpers.uvs import unpainted

FRAMES = [1.0, 2.0, 3.0]
GOOD = sheets(SHEET) | UV_SQUARE


@pytest.mark.parametrize(
    ("degrees", "words"),
    [(90, "rotated 90 degrees counter-clockwise"), (180, "upside down"), (270, "rotated 90 degrees clockwise")],
)
def test_a_quarter_turn_and_more(degrees: int, words: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-turned", layout_turned(degrees), good=GOOD)
    assert said == [("uv-turned", "note", FRAMES)]
    finding = finding_of(inspection, "uv-turned")
    assert words in finding.message
    assert finding.fixes == ("uv-turn",)


def test_a_small_turn_is_a_pose(tmp_path: Path) -> None:
    files = sheets(SHEET.edit(positions=SHEET.positions @ [[0.8, 0.6, 0], [-0.6, 0.8, 0], [0, 0, 1]])) | UV_SQUARE
    assert heard(look(tmp_path, files)) == []


def test_without_a_texture_nothing_is_measured(tmp_path: Path) -> None:
    inspection = look(tmp_path, unpainted(layout_turned(90)))
    assert heard(inspection) == []
    assert "uv-turned" in dict(inspection.verdict.skipped)
