"""Objects whose up axis seems to differ between frames or sequences, or to be z instead of y."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, usable
from inspector.checks.base.steps import JUMPS_OF_A_POSE_SET
from inspector.checks.base.turned import FORTH, TURN_BETTER, TURN_MISS, TURN_POINTS, quarter_turn, turned_frames
from inspector.sequence.series import Series
from inspector.threshold import Threshold

TURN_MISS_TWINS = Threshold(
    "turn-miss-twins",
    0.25,
    "To recognise a turned object, the check turns the sampled vertices of another sequence of the same model by 90 "
    "degrees. The object can count as turned if the root-mean-square distance between its vertices and the turned "
    "vertices is at most this share of the spread of the turned vertices. The spread is their root-mean-square "
    "distance from their mean position. The limit is generous, because the two sequences may show different poses.",
    "of the spread",
)
GROUND = Threshold(
    "ground",
    0.01,
    "An object counts as standing on the ground if its lowest point is at most this far from the ground. Some distance "
    "is allowed, because soles may sink into the ground a little.",
    "diagonals of the reference frame",
)
STANDS_OVER = Threshold(
    "stands-over",
    0.5,
    "An object counts as being at the origin if its centre is at most this far from the origin along x and along y. "
    "Other objects are not judged, because an object that has moved away from the origin gives no information about "
    "its axes.",
    "half widths along that axis",
)
RISES = Threshold(
    "rises",
    0.75,
    "An object counts as rising from the ground if its height is at least this many times its width. Flatter objects "
    "don't count, because they may have any orientation (common practice, no source).",
    "widths",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    turned = turned_frames(context)
    if turned:
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            "the object is rotated by 90 degrees about x compared with the other frames, as if the up axis had "
            "changed between y and z",
            context.numbers(list(turned)),
            files(context, turned),
            {"kind": "frames"},
        )
    way = _against_twins(context)
    if way:
        up = "z" if way == FORTH else "y"
        yield _of_all(
            context,
            Severity.WARNING,
            "twins",
            f"the object is rotated by 90 degrees about x compared with other sequences of the same model, as if {up} "
            "were up",
        )
    elif _stands_along_z(context.series):
        yield _of_all(
            context,
            Severity.NOTE,
            "stance",
            "the object stands on z = 0 and rises along z, although many readers assume that y is up",
        )


def _of_all(context: CheckContext, severity: Severity, kind: str, words: str) -> Finding:
    return Finding(CHECK.id, severity, words, context.numbers(usable(context)), (), {"kind": kind}, CHECK.fixes)


def _against_twins(context: CheckContext) -> int:
    """Return FORTH or BACK if the model is turned relative to its orientation in most other sequences; otherwise, 0.

    The reference frames of the sequences of this model are compared. If only two sequences show the model, the sequence
    whose file names sort later counts as turned.
    """
    series = context.series
    ways = [
        quarter_turn(
            other.samples[other.reference_index], series.samples[series.reference_index or 0], TURN_MISS_TWINS.value
        )
        for other in context.siblings
        if other.reference_index is not None and other.reference_facts.faces and _alike(other, series)
    ]
    turned = [way for way in ways if way]
    first = all(_sorts_after(other, series) for other in context.siblings if _alike(other, series))
    if 2 * len(turned) <= len(ways) or (len(ways) == 1 and first):
        return 0
    return turned[0]


def _alike(one: Series, other: Series) -> bool:
    return (
        one.reference_index is not None
        and (one.reference_facts.topology, one.reference_facts.vertices)
        == (other.reference_facts.topology, other.reference_facts.vertices)
        and one.reference_facts.vertices >= TURN_POINTS.value
    )


def _sorts_after(one: Series, other: Series) -> bool:
    return one.sequence.pattern.raw > other.sequence.pattern.raw


def _stands_along_z(series: Series) -> bool:
    """Whether the object stands on z = 0, with z up.

    In most frames, it must rest on z = 0, but not on y = 0, and it must never sink below z = 0. Its height must be at
    least RISES times its width. Its centre must be close to the z axis (STANDS_OVER).
    """
    boxes = series.boxes[series.usable & (np.abs(series.boxes).max(axis=(1, 2)) <= limits.SINGLE_LARGEST.value)]
    if not len(boxes) or series.reference_index is None:
        return False
    low: Floats = boxes[:, 0]
    high: Floats = boxes[:, 1]
    slack = GROUND.value * float(series.diagonals[series.reference_index])
    grounded = (np.abs(low) <= slack).mean(axis=0) > 0.5
    sunk = bool((low[:, 2] < -slack).any())
    sizes = np.median(high - low, axis=0)
    middle = np.abs(np.median(high + low, axis=0))
    rises = sizes[2] >= RISES.value * max(sizes[0], sizes[1])
    over = (middle[:2] <= STANDS_OVER.value * sizes[:2]).all()
    return bool(grounded[2] and not sunk and not grounded[1] and rises and over)


CHECK = Check(
    id="up-axis-suspect",
    title="Suspicious up axis",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The format doesn't state which axis points up. This object is rotated by 90 degrees compared with other "
        "frames or sequences, or stands upright along z, as in scenes with z up.",
        after_import="The object lies on its back or its front. If it is rotated only on some frames, it flips on "
        "those frames.",
        what_to_do="Export all frames with the same up axis. If all frames are rotated, the fix `up-axis` rotates all "
        "of them back. Its parameter `to` is the axis that should point up (`to=y` or `to=z`).",
    ),
    run=run,
    fixes=("up-axis",),
    scope=CheckScope.SEQUENCE,
    thresholds=(
        *(TURN_POINTS, TURN_MISS, TURN_MISS_TWINS, TURN_BETTER),
        *(JUMPS_OF_A_POSE_SET, GROUND, STANDS_OVER, RISES, limits.SINGLE_LARGEST),
    ),
)
