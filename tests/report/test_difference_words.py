"""Tests of the words that describe a difference between two frames."""

from __future__ import annotations

import pytest

from inspector.report.difference_words import difference_text
from inspector.sequence.frame_difference import Difference


@pytest.mark.parametrize(
    ("difference", "words"),
    [
        (Difference("face UVs", "face", (598, 598), 1, 4, 12), "1 of 598 differs: face 5, line 12"),
        (Difference("face UVs", "face", (598, 598), 3, 4, 12), "3 of 598 differ, the first is face 5, line 12"),
        (Difference("UVs (vt)", "UV", (674, 670), 0), "674 instead of 670, 0 of 670 differ"),
        (
            Difference("vertices (v)", "vertex", (9, 8), 1, 6, 7, "units", 0.25, 2.0),
            "9 instead of 8, 1 of 8 differs, mean 0.25, largest 2 units: vertex 7, line 7",
        ),
    ],
)
def test_differences_in_words(difference: Difference, words: str) -> None:
    assert difference_text(difference) == words
