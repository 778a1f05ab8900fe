"""Normals of a frame for a preview."""

from __future__ import annotations

from collections.abc import Callable

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.fixes.base.fix import Change
from inspector.fixes.base.preview import point_text
from inspector.sequence.discovery.settings import frame_text


def normal_changes(context: CheckContext, index: int, change: Callable[[Floats], Floats]) -> tuple[Change, ...]:
    """The first normal of a frame that changes, before and after.

    Args:
        context: The sequence.
        index: Index of the frame.
        change: Changes normals, (k, 3).

    Raises:
        MeshqcError: The frame's file can't be read any more.
    """
    before = context.frame(index).normals
    after = change(before)
    row = int((before != after).any(axis=1).argmax())
    label = f"frame {frame_text(context.series.facts[index].number)}, normal {row + 1}"
    return (Change(label, point_text(before[row]), point_text(after[row])),)
