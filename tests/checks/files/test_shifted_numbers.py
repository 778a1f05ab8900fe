"""Tests of `shifted-numbers`."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


def stated(first: int, last: int) -> tuple[Fraction, Fraction]:
    return Fraction(first), Fraction(last)


def test_counted_from_zero(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "shifted-numbers", shot(numbers=range(12)), expected=stated(1, 12))
    assert said == [("shifted-numbers", "error", [float(number) for number in range(13)])]
    assert finding_of(inspection, "shifted-numbers").fixes == ("renumber",)


@pytest.mark.parametrize(("first", "shift"), [(2, -1), (11, -10), (0, 1)])
def test_all_numbers_off_by_one_amount(first: int, shift: int, tmp_path: Path) -> None:
    inspection = look(tmp_path, shot(), expected=stated(first, first + 11))
    assert [(check, severity) for check, severity, _ in heard(inspection)] == [("shifted-numbers", "error")]
    assert finding_of(inspection, "shifted-numbers").numbers["shift"] == shift


@pytest.mark.parametrize(
    ("first", "last", "check"), [(2, 14, "missing-frames"), (2, 12, "frames-outside"), (1, 13, "missing-frames")]
)
def test_another_count_is_no_shift(first: int, last: int, check: str, tmp_path: Path) -> None:
    said = {one for one, _, _ in heard(look(tmp_path, shot(), expected=stated(first, last)))}
    assert check in said
    assert "shifted-numbers" not in said


def test_a_gap_is_no_shift(tmp_path: Path) -> None:
    files = {name: data for name, data in shot().items() if name != "manta.0005.obj"}
    said = heard(look(tmp_path, files, expected=stated(0, 11)))
    assert {check for check, _, _ in said} == {"missing-frames", "frames-outside"}
