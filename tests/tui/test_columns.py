"""The columns of the frame table: their letters, and which of them a narrow table leaves out."""

from __future__ import annotations

from collections import Counter

from inspector.tui import keys
from inspector.tui.columns import COLUMN_BY_ID, COLUMNS
from inspector.tui.widgets.frame_table import LEFT_OUT_WHEN_NARROW

ALWAYS = {"frame", "worst"}
"""What a row is, and what is wrong with it: a table without them says nothing."""


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
