"""A frame number that somebody typed."""

from __future__ import annotations

from fractions import Fraction

from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.drawers.prompt import Values


def number_fault(values: Values) -> str | None:
    """Why what was typed is no frame number; None if it is."""
    return None if _number(values["frame"]) is not None else "a frame number such as 118, or 1.5 for a sub-frame"


def frame_at(view: SequenceView, text: str) -> tuple[int, str]:
    """The row of a frame number that has no fault, or the next one behind it (or the last), and words where it isn't
    the one that was asked for."""
    asked = _number(text) or Fraction(0)
    row = view.row_of_number(asked)
    there = view.rows[row].number
    return row, "" if there == asked else f"there is no frame {frame_text(asked)}; this is {frame_text(there)}"


def _number(text: str) -> Fraction | None:
    if not text.isascii() or len(text) > 20 or "/" in text or "e" in text.lower():
        return None
    try:
        return Fraction(text)
    except ValueError:
        return None
