"""Tests of `map-options`. Source: MTL File Formats 4.2, 1995."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look


@pytest.mark.parametrize(
    "options", ["-s 2 2 1", "-o 0.5", "-t 0 0.1 0", "-mm 0 0.5", "-clamp on", "-imfchan r", "-S 2 2 2"]
)
def test_options_that_move_or_change_the_picture(options: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "map-options", with_library(f"map_Kd {options} skin.png"))
    assert said == [("map-options", "warning", ALL)]
    assert finding_of(inspection, "map-options").numbers["first"] == options.split(maxsplit=1)[0].lower()


@pytest.mark.parametrize("line", ["map_Kd -blendu off skin.png", "map_Kd -cc on skin.png", "bump -s 2 2 skin.png"])
def test_options_that_change_details_are_a_note(line: str, tmp_path: Path) -> None:
    said, _ = broken(tmp_path, "map-options", with_library(line))
    assert said == [("map-options", "note", ALL)]


@pytest.mark.parametrize(
    "line",
    [
        "map_Kd -s 1 1 1 -o 0 0 0 -t 0 -mm 0 1 skin.png",
        "map_Kd -blendu on -blendv on -cc off -clamp off skin.png",
        "bump -bm 0.2 skin.png",
        "bump -imfchan l skin.png",
    ],
)
def test_options_that_say_what_holds_anyway(line: str, tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library(line))) == []
