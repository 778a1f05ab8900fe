"""Tests of `missing-frames`."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


def without(*numbers: int) -> dict[str, bytes]:
    return {name: data for name, data in shot().items() if name not in {f"manta.{n:04}.obj" for n in numbers}}


def stated(first: int, last: int) -> tuple[Fraction, Fraction]:
    return Fraction(first), Fraction(last)


def test_one_inside(tmp_path: Path) -> None:
    said, _ = broken(tmp_path, "missing-frames", without(5))
    assert said == [("missing-frames", "error", [5.0])]


def test_several_inside_are_one_finding_and_no_jump(tmp_path: Path) -> None:
    said, _ = broken(tmp_path, "missing-frames", without(4, 5, 6, 7, 8, 10))
    assert said == [("missing-frames", "error", [4.0, 5.0, 6.0, 7.0, 8.0, 10.0])]


def test_the_stated_range_counts_at_both_ends(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "missing-frames", without(1, 5, 12), expected=stated(1, 12))
    assert said == [("missing-frames", "error", [1.0, 5.0, 12.0])]
    assert finding_of(inspection, "missing-frames").numbers["missing"] == 3


@pytest.mark.parametrize(
    ("gone", "expected", "words"),
    [
        ((11, 12), stated(1, 12), "2 frames missing at the end of the stated range 1-12"),
        ((1,), stated(1, 12), "1 frame missing at the start of the stated range 1-12"),
        ((1, 12), stated(1, 12), "2 frames missing at the ends of the stated range 1-12"),
        (
            (5, 12),
            stated(1, 12),
            "2 frames missing: 1 between existing frames and 1 at the end of the stated range 1-12",
        ),
    ],
)
def test_the_message_names_the_end(
    tmp_path: Path, gone: tuple[int, ...], expected: tuple[Fraction, Fraction], words: str
) -> None:
    inspection = look(tmp_path, without(*gone), expected=expected)
    assert finding_of(inspection, "missing-frames").message == words


def test_frames_beyond_the_stated_range_are_not_missing(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot(), expected=stated(3, 8)))
    assert {check for check, _, _ in said} == {"frames-outside"}


def test_a_regular_step_is_no_gap_but_a_hole_in_it_is(tmp_path: Path) -> None:
    files = shot(numbers=[n for n in range(1, 40, 3) if n != 16])
    assert heard(look(tmp_path, files)) == [("missing-frames", "error", [16.0])]
    assert heard(look(tmp_path, files, expected=stated(1, 45))) == [("missing-frames", "error", [16.0, 40.0, 43.0])]


def test_missing_sub_frames(tmp_path: Path) -> None:
    files = {f"manta.{n:04}{part}.obj": data for n in range(1, 9) for part, data in (("", b""), (".5", b""))}
    whole = shot(numbers=[1])["manta.0001.obj"]
    files = {"manta.mtl": b"newmtl skin\n"} | {name: whole for name in files if name != "manta.0004.5.obj"}
    assert ("missing-frames", "error", [4.5]) in heard(look(tmp_path, files))


def test_a_stated_range_has_the_parts_that_the_frames_have(tmp_path: Path) -> None:
    """All sub-frames are at a quarter, such as 1.25, so no sub-frame at a half, such as 1.5, is missing."""
    files = {
        name.replace(".obj", part): data
        for name, data in shot().items()
        for part in ((".obj", ".25.obj") if name.endswith(".obj") else ("",))
    }
    inspection = look(tmp_path, files, expected=stated(1, 13))
    assert finding_of(inspection, "missing-frames").frames == (Fraction(13),)
