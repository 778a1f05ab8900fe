"""Tests of the plot with letters as marks."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.report.letter_plot import letter_plot


def test_marks_stand_at_their_height() -> None:
    lines = letter_plot(np.array([0.0, 6.0, 3.0, np.nan]), "SRRF", 40, ("1", "4"))
    assert lines == [
        "     6| R",
        "      |",
        "      |  R",
        "      |",
        "      |",
        "     0|S  F",
        "       1  4",
    ]


@pytest.mark.parametrize("odd", [0, 1, 500, 4711, 9999])
def test_one_odd_frame_among_many_is_not_lost(odd: int) -> None:
    values = np.full(10_000, 50.0)
    values[odd] = 100.0
    letters = "".join("H" if place == odd else "R" for place in range(10_000))
    lines = letter_plot(values, letters, 80, ("1", "10000"))
    assert max(map(len, lines)) <= 80
    assert lines[0].startswith("   100|")
    assert lines[0].endswith("H")
    assert sum(line.count("R") for line in lines) == 71  # of 72 columns


def test_one_frame_and_nothing_seen() -> None:
    assert letter_plot(np.array([np.nan]), "F", 80, ("7", "7"))[5] == "     0|F"
