"""Tests of the columns of the frame table."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from fractions import Fraction

import numpy as np
import pytest

from inspector.report.frame_rows import SequenceView, unread
from inspector.sequence.discovery.discover import FrameFile
from inspector.tui import keys
from inspector.tui.columns import COLUMN_BY_ID, COLUMNS, Arrangement, FrameValues
from inspector.tui.glyphs import UNICODE
from inspector.tui.widgets.frame_table import LEFT_OUT_WHEN_NARROW, FrameTable
from tests.helpers.tui.world import ROOT, harbour, sequence, view_of

ALWAYS = {"frame", "worst"}
"""Columns that are never left out. Without the frame number and the worst finding, a table is useless."""


def test_each_sort_letter_chooses_one_column() -> None:
    counted = Counter(column.letter for column in COLUMNS)
    assert not {letter for letter, count in counted.items() if count > 1}, "a letter of Column is taken; take another"
    moving = {name for key in (*keys.LIST, *keys.CHOICE) for name in key.keys}
    assert not moving & counted.keys(), "the keys of the drawer itself come first; take other letters"


def test_a_narrow_table_leaves_out_all_but_two() -> None:
    assert COLUMN_BY_ID.keys() - set(LEFT_OUT_WHEN_NARROW) == ALWAYS, (
        "add the id of a new column to LEFT_OUT_WHEN_NARROW in frame_table.py"
    )
    assert len(LEFT_OUT_WHEN_NARROW) == len(set(LEFT_OUT_WHEN_NARROW) & COLUMN_BY_ID.keys())


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (0.0, "0.000"),
        (9.9994, "9.999"),
        (9.9996, "10.00"),
        (99.994, "99.99"),
        (99.996, "100"),
        (99999.4, "99999"),
        (99999.6, "1e5"),
        (9.6e99, "1e100"),
        (1.7e308, "2e308"),
        (np.inf, "-"),
        (np.nan, "-"),
    ],
)
@pytest.mark.parametrize("column", ["size", "drift"])
def test_a_number_that_is_rounded_up_fits_its_column(column: str, value: float, text: str) -> None:
    values = FrameValues(view_of(harbour().inspections[0]))
    vars(values)[column] = np.full(len(values.view.facts), value)
    assert COLUMN_BY_ID[column].text(values, 0) == text
    assert len(text) <= COLUMN_BY_ID[column].narrow


def first_cells(numbers: Collection[Fraction], row: int, marks: Collection[Fraction] = ()) -> str:
    one = sequence(b"manta", ())
    files = [FrameFile(number, ROOT / f"manta.{at}.obj", 1000, 0) for at, number in enumerate(numbers)]
    table = FrameTable(UNICODE)
    table.show(SequenceView(one, tuple(map(unread, files))), Arrangement(), marks)
    return "".join(segment.text for segment in table.row(row, 78)).split()[0]


def test_frame_numbers_are_never_cut() -> None:
    quarters = [Fraction(4004 + at, 4) for at in range(1600)]  # every fourth number is whole
    assert first_cells(quarters, 1) == "1001.25"
    marked = [Fraction(86400 + at) for at in range(3)]  # numbers from a time of day, at 1 fps
    assert first_cells(marked, 0) == "86400"
    assert first_cells(marked, 0, marked[:1]) == "*86400"
    assert first_cells(marked, 1, marked[:1]) == "86401"
    long = [Fraction(at) for at in range(99_600, 100_001)]
    assert first_cells(long, 400) == "100000"
