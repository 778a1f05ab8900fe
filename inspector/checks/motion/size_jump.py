"""Frames in which the size of the object jumps."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.exploded import exploded_frames
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files
from inspector.checks.base.jumps import JUMP_SIZE, JUMP_UNDONE, size_jumps
from inspector.checks.base.mixed_units import SCALED_ALIKE, distances, mixed_units, scaled_whole
from inspector.checks.base.renumbered import renumbered_frames
from inspector.checks.base.sizes import SAME_FACTOR, unit_factor, units_of
from inspector.checks.base.smoothness import ROUGHNESS_LEFT, gaps, places, replaced, single_outliers
from inspector.checks.base.steps import JUMP_FACTOR, JUMP_WINDOW, JUMPS_OF_A_POSE_SET
from inspector.checks.base.turned import upset_frames
from inspector.threshold import Threshold

SCALED = Threshold(
    "scaled",
    1.05,
    "A single frame counts as scaled if the ratio of the object's size to the size expected from the neighbouring "
    "frames, or the inverse ratio, is above this value. Squash and stretch don't count as scaling, because they change "
    "the proportions of the object, or last for several frames (common practice, no source).",
)
SCALED_MOST = Threshold(
    "scaled-most",
    0.5,
    "An object counts as scaled only if three quarters of the distances between its points change by at least this "
    "share of the change in its size. If only a part is displaced, fewer distances change, because those within the "
    "part, and those within the rest of the object, stay the same.",
    "of the mean change",
)


def run(context: CheckContext) -> Iterator[Finding]:
    mixed = mixed_units(context)
    if mixed:
        yield _in_other_units(context, mixed)
        return
    least = context.limit(JUMP_SIZE)
    rows, jumps = size_jumps(context, least)
    every = scaled_frames(context)
    for kind, hits in (("outlier", jumps.outliers), ("break", jumps.breaks)):
        if not hits:
            continue
        indices = [rows[hit] for hit in hits]
        before, after = context.series.diagonals[[rows[hits[0] - 1], indices[0]]]
        ratio = _ratio(math.log(after) - math.log(before))
        extent = "and then jumps back" if kind == "outlier" else "and doesn't jump back"
        if kind == "outlier":
            certain = every.keys() >= set(indices)
        else:
            certain = all(scaled_whole(context, rows[hit - 1], rows[hit]) for hit in hits)
        yield Finding(
            CHECK.id,
            _severity(ratio) if certain else Severity.WARNING,
            f"the size jumps to {ratio:.3g} times that of the previous frame{_units(ratio)} {extent}",
            context.numbers(indices),
            files(context, indices),
            {"kind": kind, "ratio": ratio},
            CHECK.fixes if kind == "outlier" else (),
        )
    known = {rows[hit] for hit in (*jumps.outliers, *jumps.breaks)}
    # If the delivery rules allow larger jumps than JUMP_SIZE, a single frame may also be scaled by that ratio.
    least = least if least > JUMP_SIZE.value else SCALED.value
    scaled = {
        index: every[index]
        for index in context.unexplained(every)
        if index not in known and max(every[index], 1.0 / every[index]) >= least
    }
    if scaled:
        worst = max(scaled.values(), key=lambda ratio: abs(math.log(ratio)))
        indices = sorted(scaled)
        yield Finding(
            CHECK.id,
            _severity(worst),
            f"the object is scaled by a factor of {worst:.3g}{_units(worst)} compared with the frames before and after",
            context.numbers(indices),
            files(context, indices),
            {"kind": "scaled", "ratio": worst},
            CHECK.fixes,
        )


def _in_other_units(context: CheckContext, mixed: Mapping[int, float]) -> Finding:
    indices = sorted(mixed)
    ratio = mixed[indices[0]]
    return Finding(
        CHECK.id,
        Severity.ERROR,
        f"the object is {ratio:.4g} times as large as in the other frames{_units(ratio)}: the frames are in different "
        "units",
        context.numbers(indices),
        files(context, indices),
        {"kind": "units", "ratio": ratio},
        CHECK.fixes,
    )


def scaled_frames(context: CheckContext) -> dict[int, float]:
    """Find single frames in which the whole object is larger or smaller than in the neighbouring frames.

    All quartiles of the distances between points of the object must change by about the same factor. Most of the
    distances must change as well, because the quartiles alone may also change if only a part is displaced. Frames that
    are turned or mirrored, or whose vertices are scattered or in a different order, are left out.

    Returns:
        Index of the frame -> ratio of the object's size to the size expected from the neighbouring frames. Empty if
        there are fewer than two points, or if so many frames are found that the sequence counts as a set of poses.
    """
    followed = places(context)
    if followed.shape[1] < 2:
        return {}
    with np.errstate(over="ignore", invalid="ignore", divide="ignore"):
        away = distances(context)
        sizes = away if followed is context.series.boxes else np.quantile(away, (0.25, 0.5, 0.75), axis=1).T
        curve = np.log(sizes)
        curve[~np.isfinite(curve).all(axis=1)] = np.nan
        each = np.log(away)
    least = math.log(SCALED.value)
    found = {}
    for index in single_outliers(curve, gaps(context), least * curve.shape[1] ** 0.5):
        off = curve[index] - replaced(curve, index)
        mean = float(off.mean())
        if np.ptp(off) <= SCALED_ALIKE.value * abs(mean) and most_change(each[index - 2 : index + 3], mean):
            found[index] = _ratio(mean)
    found = {index: ratio for index, ratio in found.items() if index not in upset_frames(context)}
    if found:  # if the vertices have a different order or are scattered, the distances show no size
        others = {*exploded_frames(context), *renumbered_frames(context)}
        found = {index: ratio for index, ratio in found.items() if index not in others}
    return found if len(found) <= max(2.0, JUMPS_OF_A_POSE_SET.value * len(curve)) else {}


def most_change(around: Floats, mean: float) -> bool:
    """Whether most distances change in the middle frame of five in the same way as the sizes of the object.

    Args:
        around: Logarithms of the distances in the five frames, (5, d).
        mean: Logarithm of the ratio of actual to expected size in the middle frame, averaged over the sizes.
    """
    around = around[:, np.isfinite(around).all(axis=0)]
    shares = (around[2] - replaced(around, 2)) / mean
    return bool(shares.size and np.quantile(shares, 0.25) >= SCALED_MOST.value)


def _ratio(logarithm: float) -> float:
    """Return the ratio with this natural logarithm, limited so that the ratio and its inverse are finite."""
    return math.exp(min(max(logarithm, -700.0), 700.0))


def _severity(ratio: float) -> Severity:
    """Return ERROR if the ratio is close to the factor between two units; otherwise WARNING.

    No motion changes the size by such a factor.
    """
    return Severity.WARNING if unit_factor(ratio, SAME_FACTOR.value) is None else Severity.ERROR


def _units(ratio: float) -> str:
    factor = unit_factor(ratio, SAME_FACTOR.value)
    return "" if factor is None else f" (the factor between {units_of(factor)})"


CHECK = Check(
    id="size-jump",
    title="Size jump",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The size of the object jumps from one frame to the next. The motion before and after doesn't explain the "
        "jump. If the ratio between the two sizes is the factor between two units, such as 100 for metres and "
        "centimetres, the frame was probably exported in a different unit. The finding is then an error.",
        after_import="The object suddenly looks larger or smaller, for a few frames or until the end.",
        what_to_do="Look at the frame. If the size jumps back, the fix can set it to a value between the sizes on the "
        "neighbouring frames, or convert the frames to the unit of the others. If the later frames keep the new size, "
        "they come from a different export, so export all frames again.",
    ),
    run=run,
    fixes=("align-outlier",),
    scope=CheckScope.SEQUENCE,
    thresholds=(
        JUMP_SIZE,
        SCALED,
        SCALED_ALIKE,
        SCALED_MOST,
        ROUGHNESS_LEFT,
        SAME_FACTOR,
        JUMP_FACTOR,
        JUMP_WINDOW,
        JUMP_UNDONE,
        JUMPS_OF_A_POSE_SET,
    ),
    explained_by=("frozen",),  # a copied frame has the size of the previous frame
)
