"""Frames that a fix made in an earlier delivery."""

from __future__ import annotations

from inspector.checks.base.context import CheckContext


def made_frames(context: CheckContext) -> list[int]:
    """Return the indices of frames that a fix made, according to the receipt, unless a later export replaced them."""
    made = context.marks.invented
    if not made:
        return []
    return [index for index in range(len(context.series.facts)) if context.file_name(index).text in made]
