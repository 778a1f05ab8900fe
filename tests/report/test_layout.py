"""Tests of frame ranges, and of the layout of text for people."""

from __future__ import annotations

from fractions import Fraction

import pytest

from inspector.checks.base.finding import Severity
from inspector.report.text_style import TextStyle, cells
from inspector.sequence.discovery.frame_ranges import frame_ranges


@pytest.mark.parametrize(
    ("numbers", "step", "text"),
    [
        ([], 1, ""),
        ([7], 1, "7"),
        ([1, 2], 1, "1, 2"),
        ([1, 2, 3], 1, "1-3"),
        ([12, 1, 2, 3, 7, 9, 10, 11, 7], 1, "1-3, 7, 9-12"),
        ([1, 3, 5, 9], 2, "1-5x2, 9"),
        ([1, 1.5, 2, 2.5, 4], 0.5, "1-2.5x0.5, 4"),
        ([1001, 1002, 1003], 1, "1001-1003"),
    ],
)
def test_frame_ranges(numbers: list[float], step: float, text: str) -> None:
    assert frame_ranges(map(Fraction, numbers), Fraction(step)) == text


def test_cells_of_wide_and_combining_characters() -> None:
    """Source: Unicode Standard Annex 11, East Asian Width."""
    assert cells("manta") == 5
    assert cells("\u6d77\u85fb") == 4  # two ideographs, Wide
    assert cells("\uff21") == 2  # fullwidth A
    assert cells("re\u0301cif") == 5  # e and a combining acute


def test_lines_keep_to_the_width_and_lose_no_word() -> None:
    text = "a frond of kelp sways in the slow water of the harbour, and \u6d77\u85fb \u6d77\u85fb \u6d77\u85fb"
    for width in (20, 33, 80):
        lines = TextStyle(width).wrap(text, "do: ", "    ")
        assert max(map(cells, lines)) <= width
        assert lines[0].startswith("do: ")
        assert all(line.startswith("    ") for line in lines[1:])
        assert " ".join(line[4:] for line in lines) == text


def test_a_path_stays_whole_and_a_binary_line_does_not_fill_the_screen() -> None:
    path = "/shots/" + "kelp" * 12
    assert TextStyle(40).wrap(f"in {path} there", "  ")[1] == f"  {path}"
    shown = "\n".join(TextStyle(40).wrap("x" * 10_000))
    assert "..." in shown
    assert len(shown) < 200


def test_severities_are_told_by_letter_and_word_with_and_without_colour() -> None:
    for severity, words in zip(Severity, ("n note", "W warning", "E error"), strict=True):
        assert TextStyle().severity(severity).strip() == words
        coloured = TextStyle(colour=True).severity(severity)
        assert words in coloured
        assert coloured.startswith("\x1b[")
        assert coloured.endswith("\x1b[0m")


def test_ascii_look_has_only_ascii() -> None:
    assert TextStyle(ascii=True).wrap("r\u00e9cif \u2192 \u6d77") == ["r\\xe9cif \\u2192 \\u6d77"]
