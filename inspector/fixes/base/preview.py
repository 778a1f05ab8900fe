"""Values before and after a fix, as text that is safe to show."""

from __future__ import annotations

from collections.abc import Callable

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.fixes.base.fix import AnyStep, Change
from inspector.sequence.discovery.settings import frame_text

_VERTICES = 2
_PREVIEWED = 3  # maximum number of changes of a step to show


def previewed(step: AnyStep) -> tuple[tuple[Change, ...], str]:
    """Select the changes to show from a step's preview.

    Returns:
        The first changes, and the number of other changes as text, such as `and 7 more`; "" if there are no others.
    """
    more = len(step.preview) - _PREVIEWED
    return step.preview[:_PREVIEWED], f"and {more:,} more" if more > 0 else ""


def point_text(values: Floats) -> str:
    """Return coordinates as text with up to seven significant digits, such as `1.25 0 -3.5`."""
    return " ".join(f"{value:.7g}" for value in values.tolist())


def position_changes(context: CheckContext, index: int, change: Callable[[Floats], Floats]) -> tuple[Change, ...]:
    """Return the positions of a frame's first vertices, before and after a change.

    Args:
        context: The sequence.
        index: Index of the frame.
        change: Receives positions, (n, 3), and returns the changed positions.

    Raises:
        MeshqcError: The frame's file can no longer be read.
    """
    before = context.frame(index).positions[:_VERTICES]
    after = change(before)
    label = f"frame {frame_text(context.series.facts[index].number)}, vertex"
    return tuple(
        Change(f"{label} {vertex + 1}", point_text(old), point_text(new))
        for vertex, (old, new) in enumerate(zip(before, after, strict=True))
    )


def normal_changes(context: CheckContext, index: int, change: Callable[[Floats], Floats]) -> tuple[Change, ...]:
    """Return the first normal that a change affects, before and after the change.

    If the change affects no normal, return the first normal of the frame.

    Args:
        context: The sequence.
        index: Index of a frame with normals.
        change: Receives normals, (k, 3), and returns the changed normals.

    Raises:
        MeshqcError: The frame's file can no longer be read.
    """
    before = context.frame(index).normals
    after = change(before)
    row = int((before != after).any(axis=1).argmax())
    label = f"frame {frame_text(context.series.facts[index].number)}, normal {row + 1}"
    return (Change(label, point_text(before[row]), point_text(after[row])),)
