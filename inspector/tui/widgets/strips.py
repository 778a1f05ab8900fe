"""Segments -> a line of the screen."""

from __future__ import annotations

from collections.abc import Iterable

from rich.segment import Segment
from textual.strip import Strip

from inspector.tui.styles import PLAIN


def strip_of(segments: Iterable[Segment], width: int) -> Strip:
    """Exactly `width` cells. Every segment gets a style: the filters behind NO_COLOR can't do without."""
    styled = [Segment(segment.text, segment.style or PLAIN) for segment in segments]
    return Strip(styled).adjust_cell_length(width, PLAIN).simplify()
