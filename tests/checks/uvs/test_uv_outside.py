"""Tests of `uv-outside`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import broken
from tests.helpers.quads import Quad, column, quad_frames
from tests.helpers.sequences import finding_of, heard, look, shot
from tests.helpers.surfaces import EVERY
from tests.helpers.uvs import all_laid, laid, moved, unpainted


def test_an_island_across_the_border(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-outside", all_laid(moved(0.25, 0)))
    assert said == [("uv-outside", "warning", EVERY)]
    finding = finding_of(inspection, "uv-outside")
    assert "3 faces cross the border of the texture: u 0 to 1.15, v 0 to 1" in finding.message
    assert finding.fixes == ()  # because a texture was painted for these UVs


def test_without_a_texture_the_uvs_may_be_moved(tmp_path: Path) -> None:
    inspection = look(tmp_path, unpainted(all_laid(moved(0.25, 0))))
    assert finding_of(inspection, "uv-outside").fixes == ("uv-into-square",)


@pytest.mark.parametrize(
    ("move", "words", "tiles"),
    [
        ((1, 0), "the faces are in 2 squares; none crosses a border", 2),
        ((0, -1), "the faces are in 2 squares; none crosses a border", 2),
        ((3, 7), "the faces are in 2 squares; none crosses a border", 2),
    ],
)
def test_an_island_in_a_square_of_its_own(move: tuple[int, int], words: str, tiles: int, tmp_path: Path) -> None:
    inspection = look(tmp_path, all_laid(moved(*move)))
    assert heard(inspection) == [("uv-outside", "note", EVERY)]
    finding = finding_of(inspection, "uv-outside")
    assert words in finding.message
    assert finding.numbers["tiles"] == tiles


def test_everything_in_the_square_beside(tmp_path: Path) -> None:
    inspection = look(tmp_path, all_laid(moved(1, 0), first=0))
    assert heard(inspection) == [("uv-outside", "warning", EVERY)]
    assert "all faces are in one other square" in finding_of(inspection, "uv-outside").message


def test_a_pattern_that_repeats(tmp_path: Path) -> None:
    inspection = look(tmp_path, all_laid(lambda uv: uv * 4.0, first=0))
    assert heard(inspection) == [("uv-outside", "note", EVERY)]
    assert "the texture is repeated over" in finding_of(inspection, "uv-outside").message


def test_a_layout_that_wraps_round(tmp_path: Path) -> None:
    """Maps repeat unless `-clamp on` is given (MTL File Formats 4.2, 1995, from memory)."""
    inspection = look(tmp_path, all_laid(moved(0.2, 0), first=0))
    assert heard(inspection) == [("uv-outside", "note", EVERY)]
    assert "3 faces cross the border of the texture: u 0.2 to 1.1" in finding_of(inspection, "uv-outside").message


def test_rounding_at_the_border_is_none(tmp_path: Path) -> None:
    assert heard(look(tmp_path, all_laid(lambda uv: uv * [0.99, 1.00005] - [0, 0.00002], first=0))) == []


def test_one_frame_is_told_of_as_other_uvs(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot({5: laid(moved(0.25, 0))}))) == [("uv-values", "warning", [5.0])]


@pytest.mark.parametrize(("moved_quads", "said"), [(22, False), (23, True)])
def test_a_whole_layout_one_square_up(moved_quads: int, said: bool, tmp_path: Path) -> None:
    """88 % or 92 % of the UVs are moved up by one square. If at least a tenth remain in the unit square, the others
    count as a rim that sticks out (SHIFTED_SHARE)."""
    quads = [Quad(uvs=[(u, v + (at < moved_quads)) for u, v in column(at, 25)]) for at in range(25)]
    inspection = look(tmp_path, quad_frames(quads))
    message = finding_of(inspection, "uv-outside").message
    assert ("of the UVs are offset by whole squares (1 up)" in message) is said
    assert message.startswith("92.0%") is said
