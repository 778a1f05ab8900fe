"""Tests of `frames-outside`."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from tests.helpers.one_thing import broken
from tests.helpers.sequences import shot


def test_frames_before_and_after(tmp_path: Path) -> None:
    stated = Fraction(2), Fraction(10)
    said, _ = broken(tmp_path, "frames-outside", shot(), good=shot(numbers=range(2, 11)), expected=stated)
    assert said == [("frames-outside", "warning", [1.0, 11.0, 12.0])]
