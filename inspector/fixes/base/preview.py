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
    """Return the first changes of a step, and how many more it has, as in `and 7 more`; empty if there are no more."""
    more = len(step.preview) - _PREVIEWED
    return step.preview[:_PREVIEWED], f"and {more:,} more" if more > 0 else ""


def point_text(values: Floats) -> str:
    """Coordinates as text, with up to seven significant digits: `1.25 0 -3.5`."""
    return " ".join(f"{value:.7g}" for value in values.tolist())


def position_changes(context: CheckContext, index: int, change: Callable[[Floats], Floats]) -> tuple[Change, ...]:
    """The positions of a frame's first vertices, before and after.

    Args:
        context: The sequence.
        index: Index of the frame.
        change: Called with positions, (n, 3); returns the changed positions.

    Raises:
        MeshqcError: The frame's file can't be read any more.
    """
    before = context.frame(index).positions[:_VERTICES]
    after = change(before)
    label = f"frame {frame_text(context.series.facts[index].number)}, vertex"
    return tuple(
        Change(f"{label} {vertex + 1}", point_text(old), point_text(new))
        for vertex, (old, new) in enumerate(zip(before, after, strict=True))
    )


def normal_changes(context: CheckContext, index: int, change: Callable[[Floats], Floats]) -> tuple[Change, ...]:
    """The first normal that changes in a frame, before and after. If none changes, it is the first normal.

    Args:
        context: The sequence.
        index: Index of a frame with normals.
        change: Called with normals, (k, 3); returns the changed normals.

    Raises:
        MeshqcError: The frame's file can't be read any more.
    """
    before = context.frame(index).normals
    after = change(before)
    row = int((before != after).any(axis=1).argmax())
    label = f"frame {frame_text(context.series.facts[index].number)}, normal {row + 1}"
    return (Change(label, point_text(before[row]), point_text(after[row])),)
