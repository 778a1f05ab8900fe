"""UVs outside the unit square."""

from __future__ import annotations

import re
from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.arrays import Indices
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import corner_uvs_or_zero
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files, problem_places, same_layout
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.formats.problems import Problem
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.uv_layout import is_outside
from inspector.threshold import Threshold

REPEAT_SPAN = Threshold(
    "repeat-span",
    1.5,
    "The texture counts as repeated on purpose if the UV layout is at least this wide or high. A layout that leaves "
    "the unit square by mistake is smaller, because it is about as large as the square (common practice, no source).",
    unit="texture widths",
)

SHIFTED_SHARE = Threshold(
    "shifted-share",
    0.9,
    "The layout as a whole counts as moved to a different square if at least this share of the UVs are in that square. "
    "The limit is below 1, because a rim of the layout may stick out of that square. Such a rim contains less than a "
    "tenth of the UVs (common practice, no source).",
)

_TILED = re.compile(rb"<udim>|<uvtile>|[._]1\d\d\d[._]|_u\d+_v\d+", re.IGNORECASE)
"""Pattern in the file name of a texture that has a separate image for each unit square: a placeholder, a number from
1000 to 1999, or a column and a row (common practice, no source).
"""


def run(context: CheckContext) -> Iterator[Finding]:
    frames = same_layout(context)
    base = context.series.reference_facts
    if base.uv_box is None or not is_outside(base.uv_box):
        return
    column, row, beside = _main_square(context.reference_frame)
    shifted = (column, row) != (0, 0) and beside >= SHIFTED_SHARE.value
    crossing = base.problem("uv-crossing")
    low_u, low_v, high_u, high_v = base.uv_box
    extent = max(high_u - low_u, high_v - low_v)
    wraps = extent <= 1.0 + limits.UV_DIFFERENCE.value
    across = crossing is not None and not wraps and extent < REPEAT_SPAN.value
    moved = _shift_words(column, row, beside) if shifted else ""
    maps = context.materials(frames[0]).maps
    painted = bool(maps)
    shifted = shifted and not any(_TILED.search(use.map.name.raw) for use in maps)
    yield Finding(
        CHECK.id,
        Severity.WARNING if across or shifted else Severity.NOTE,
        f"{moved}{_words(base, crossing, across or wraps)}: u {low_u:.4g} to {high_u:.4g}, "
        f"v {low_v:.4g} to {high_v:.4g}",
        context.numbers(frames),
        files(context, frames) if crossing is None else problem_places(context, [(frames[0], crossing)], "face"),
        {
            **{"tiles": base.uv_tiles, "crossing": crossing.count if crossing else 0},
            **{"least_u": low_u, "least_v": low_v, "largest_u": high_u, "largest_v": high_v},
        },
        CHECK.fixes if across and not painted else (),
    )


def _main_square(frame: Frame) -> tuple[int, int, float]:
    """Return the column and row of the unit square that contains the most UVs, and its share of the UVs, 0 to 1.

    The square that the texture fills is (0, 0). All three values are 0 if no UV is finite.
    """
    uvs = frame.uvs[:, :2]
    low = np.floor(np.nanmin(uvs, axis=0) + limits.UV_DIFFERENCE.value)
    if (np.nanmax(uvs, axis=0) <= low + 1.0 + limits.UV_DIFFERENCE.value).all():  # both borders included
        return int(low[0]), int(low[1]), 1.0
    squares, count = np.unique(np.floor(uvs[np.isfinite(uvs).all(axis=1)]), axis=0, return_counts=True)
    if not len(squares):
        return 0, 0, 0.0
    column, row = squares[count.argmax()].tolist()
    return int(column), int(row), float(count.max() / count.sum())


def _shift_words(column: int, row: int, share: float) -> str:
    ways = [(column, "right", "left"), (row, "up", "down")]
    steps = " and ".join(f"{abs(by):,} {up if by > 0 else down}" for by, up, down in ways if by)
    return f"{share:.1%} of the UVs are offset by whole squares ({steps}); "


def _words(base: FrameFacts, crossing: Problem | None, once: bool) -> str:
    if crossing is None:
        if base.uv_tiles == 1:
            return "the UVs are outside the unit square (all faces are in one other square)"
        return f"UVs are outside the unit square (the faces are in {base.uv_tiles:,} squares; none crosses a border)"
    if once:
        cross = "crosses" if crossing.count == 1 else "cross"
        return f"{count_of(crossing.count, 'face')} {cross} the border of the texture"
    return f"the texture is repeated over {count_of(base.uv_tiles, 'square')}"


def _affected(frame: Frame, _: Frame | None) -> Indices:
    """Return the faces with a corner outside the unit square by more than `limits.UV_DIFFERENCE`, ascending, (k,)."""
    uvs = corner_uvs_or_zero(frame)[0]
    rim = limits.UV_DIFFERENCE.value
    return frame.corners.faces_with(np.any((uvs < -rim) | (uvs > 1.0 + rim), axis=1))


CHECK = Check(
    id="uv-outside",
    title="UVs outside the square",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The texture fills the unit square (UVs from 0 to 1), but some UVs are outside the square. This is "
        "usually intended if whole faces are in other squares, if the texture is repeated many times, or if a layout "
        "no larger than the square wraps around the border. If a layout sticks out of the square in any other way, "
        "this is usually a mistake.",
        after_import="If the reader repeats the texture, the opposite edge of the texture appears beyond the border. "
        "Otherwise, the surface is blank beyond the border, or the outermost pixels are stretched into stripes.",
        what_to_do="If the texture is a pattern, set the import to repeat it. Otherwise, move the UVs into the square "
        "in the scene. If no texture has been painted for the UVs yet, the fix `uv-into-square` can move them.",
    ),
    run=run,
    fixes=("uv-into-square",),
    thresholds=(SHIFTED_SHARE, REPEAT_SPAN, limits.UV_DIFFERENCE),
    affected_faces=_affected,
)
