"""Motions that loop or repeat: how well the loop closes, and which frames break the cycle."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, count_of, files
from inspector.checks.base.off_path import off_path
from inspector.names import amount
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.series import Series
from inspector.threshold import Threshold

LOOP_EVEN = Threshold(
    "loop-even",
    1.5,
    "A loop counts as closed if the step from the last frame to the first is at most this many times as long as the "
    "median step (common practice, no source).",
    "median steps",
)
LOOP_SEAM = Threshold(
    "loop-seam",
    3.0,
    "A loop counts as nearly closed if the step from the last frame to the first is at most this many times as long as "
    "the median step. If the step is longer, the motion is not a loop (common practice, no source).",
    "median steps",
)
LOOP_AWAY = Threshold(
    "loop-away",
    2.5,
    "A motion can count as one cycle only if its largest distance from the first frame is more than this many times "
    "its longest step. The step from the last frame to the first counts as one of its steps. At a smaller ratio, the "
    "motion hardly leaves its start, or leaps back to it. The limit is below 2.6, because a cycle of eight frames on "
    "a circle has a ratio of 2.6 (the diameter divided by the chord of 45 degrees).",
)

LOOP_SAME = Threshold(
    "loop-same",
    0.05,
    "The poses of two frames count as equal if the mean distance between their sampled vertices is at most this value. "
    "Some distance is allowed, because rounding and solver residuals cause small, invisible differences.",
    "median steps",
)
LOOP_ODD = Threshold(
    "loop-odd",
    0.1,
    "A motion counts as repeating if at most this share of the frames after the first cycle differ from the frame one "
    "cycle earlier. A single frame that differs is always allowed.",
    "of the frames",
)

_SHORTEST = 3
"""Minimum number of frames in a cycle. Two alternating frames are not a motion."""


@dataclass(frozen=True, slots=True)
class Seam:
    """Measurements that show whether a motion is a loop.

    The distance between two frames is the mean displacement of the sampled vertices, in scene units. Frames that are
    off their path, and frames that break the cycle, are left out of `longest` and `away`.

    Attributes:
        distance: The distance from the last frame to the first.
        usual: The median step from one frame to the next.
        longest: The longest step from one frame to the next.
        away: The largest distance from the first frame to another frame.
        held: Whether the sampled vertices stay still in both the first and the last step.
    """

    distance: float
    usual: float
    longest: float
    away: float
    held: bool


@dataclass(frozen=True, slots=True)
class Round:
    """A cycle of a motion.

    Attributes:
        length: The number of frames after which the poses recur.
        exact: Whether all recurring poses are exactly equal.
        odd: Indices of the frames that break the cycle.
    """

    length: int
    exact: bool
    odd: tuple[int, ...] = ()


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    series = context.series
    seam, cycle = _seam(context, ()), None
    if seam.usual > 0.0:
        cycles = [_round(series), _nearly_round(series, LOOP_SAME.value * seam.usual)]
        cycle = min((one for one in cycles if one is not None), key=lambda one: one.length, default=None)
    if cycle is not None and cycle.odd:
        seam = _seam(context, cycle.odd)
    count = len(series.facts)
    repeats = cycle is not None and cycle.length < count - 1
    if (
        seam.away <= (seam.longest if repeats else LOOP_AWAY.value * max(seam.distance, seam.longest))
        or seam.usual == 0.0
    ):
        return
    numbers: dict[str, float | int | str | None] = {
        **{"seam": seam.distance, "step": seam.usual},
        "round": count if cycle is None else cycle.length,
    }
    odd = [] if cycle is None else [index for index in context.unexplained(cycle.odd) if 0 < index < count - 1]
    if cycle is not None and odd:
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"{count_of(len(odd), 'frame')} {'breaks' if len(odd) == 1 else 'break'} the cycle: the motion usually "
            f"repeats every {cycle.length} frames",
            context.numbers(odd),
            files(context, odd),
            {"kind": "odd", **numbers},
        )
    if cycle is not None and repeats:
        kind = "rounds"
        words = f"the motion repeats every {cycle.length} frames{_except(series, cycle.odd)}"
    elif seam.distance <= LOOP_SAME.value * seam.usual and not seam.held:
        first = frame_text(series.facts[0].number)
        kind = "doubled"
        words = f"a loop whose last frame repeats frame {first}, so each cycle shows this pose twice in a row"
    elif seam.distance <= LOOP_EVEN.value * seam.usual:
        kind, words = "closed", "a loop: the step from the last frame to the first is not much longer than usual"
    elif seam.distance <= LOOP_SEAM.value * seam.usual:
        kind = "open"
        words = f"nearly a loop: the step from the last frame to the first is {amount(seam.distance, 'unit')}, and the "
        words += f"median step is {amount(seam.usual, 'unit')}"
    else:
        return
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        words,
        (series.facts[0].number, series.facts[-1].number),
        numbers={"kind": kind, **numbers},
        fixes=CHECK.fixes if cycle is not None and cycle.exact else (),
    )


def _except(series: Series, odd: Sequence[int]) -> str:
    """Return the end of a message, such as ", except on frame 12"; "" if no frame breaks the cycle."""
    if not odd:
        return ""
    named = f"frame {frame_text(series.facts[odd[0]].number)}" if len(odd) == 1 else count_of(len(odd), "frame")
    return f", except on {named}"


def _seam(context: CheckContext, odd: Sequence[int]) -> Seam:
    """Measure the steps of a motion, and the distance from the last frame to the first.

    Args:
        context: The sequence.
        odd: Indices of the frames that break the cycle. These frames, and the frames that `off_path` returns, are left
            out when the longest step and the largest distance from the first frame are determined.

    Raises:
        NotApplicable: There are fewer than four frames, a frame is missing, a frame number occurs twice, a frame can't
            be compared with the others, or positions are too far apart.
    """
    series = context.series
    places = series.samples
    if len(places) <= _SHORTEST or series.sequence.gaps or len({one.number for one in series.facts}) < len(places):
        raise NotApplicable("there are too few frames for a loop, or frames are missing or have the same number")
    if not places.shape[1] or not np.isfinite(places).all():
        raise NotApplicable("some frames can't be compared with the others")
    with np.errstate(over="ignore"):
        steps = _mean_distances(places[1:], places[:-1])
        away = _mean_distances(places, places[:1])
    if not np.isfinite(away).all():
        raise NotApplicable("positions are too far apart to be compared")
    held = bool(steps[0] == steps[-1] == 0.0)
    good = np.ones(len(places), bool)
    good[[*off_path(context), *odd]] = False
    longest = steps[good[1:] & good[:-1]].max(initial=0.0)
    return Seam(float(away[-1]), float(np.median(steps)), float(longest), float(away[good].max(initial=0.0)), held)


def _mean_distances(here: Floats, there: Floats) -> Floats:
    """Return the mean displacement of the sampled vertices between the two frames of each pair, (n,), in scene units.

    Args:
        here: Positions in the first frame of each pair, (n, s, 3), in scene units.
        there: Positions in the second frame of each pair, (n, s, 3); or in a single frame for all pairs, (1, s, 3).
    """
    return np.asarray(np.linalg.norm(here - there, axis=-1).mean(axis=-1))


def _round(series: Series) -> Round | None:
    """Return the shortest cycle whose poses recur with equal vertices and bounding boxes; None if there is none.

    If only the last frame repeats the first, the cycle consists of all frames before the last.
    """
    known: dict[tuple[bytes, object], int] = {}
    # Adding 0.0 turns -0.0 into 0.0, so that equal positions have equal bytes.
    looks = [(place.tobytes(), one.box) for place, one in zip(series.samples + 0.0, series.facts, strict=True)]
    poses = np.array([known.setdefault(look, len(known)) for look in looks])
    for length in range(_SHORTEST, len(poses)):
        if poses[length] == poses[0] and np.array_equal(poses[length:], poses[:-length]):
            return Round(length, exact=True)
    return None


def _nearly_round(series: Series, same: float) -> Round | None:
    """Return the shortest cycle whose poses nearly recur, except in a few frames; None if there is none.

    At least half of the cycle, and at least _SHORTEST frames, must recur. Poses with a mean distance of at most `same`,
    in scene units, count as equal.
    """
    places = series.samples
    for length in range(_SHORTEST, 2 * len(places) // 3 + 1):
        if len(places) - length < _SHORTEST or _mean_distances(places[length : length + 1], places[:1])[0] > same:
            continue
        apart = np.flatnonzero(_mean_distances(places[length:], places[:-length]) > same).tolist()
        if len(apart) <= max(1.0, LOOP_ODD.value * (len(places) - length)):
            return Round(length, False, tuple(sorted({_out_of_step(places, one, one + length) for one in apart})))
    return None


def _out_of_step(places: Floats, one: int, other: int) -> int:
    """Of two frames that should have the same pose, return the index of the frame that breaks the cycle.

    `one` is the earlier of the two frames, and must not be the first frame of the sequence. The frame that is farther
    from the mean of the two neighbours of `one` breaks the cycle.
    """
    off = _mean_distances(places[[one, other]], (places[one - 1] + places[one + 1]) / 2.0)
    return one if off[0] > off[1] else other


CHECK = Check(
    id="loop",
    title="Loop",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Either the motion ends where it began, so the sequence can be played as a loop, or the motion repeats "
        "several times. In the second case, some frames may differ from the corresponding frames of the other cycles.",
        after_import="When the sequence is played as a loop, the motion pauses at each restart if the last frame "
        "repeats the first. The motion jumps at each restart if the last frame is more than one step from the first. "
        "If the sequence contains several cycles, the object twitches on each frame that differs from the "
        "corresponding frames of the other cycles. Otherwise, nothing looks wrong.",
        what_to_do="To play the sequence as a loop, use the fix that drops the repeated frame or the repeated cycles. "
        "If the loop is not quite closed, close it in the scene. If a frame breaks the cycle, export it again.",
    ),
    run=run,
    fixes=("trim-loop",),
    scope=CheckScope.SEQUENCE,
    thresholds=(LOOP_EVEN, LOOP_SEAM, LOOP_AWAY, LOOP_SAME, LOOP_ODD),
    # If one of these checks reports a frame, its fault also explains why the frame breaks a cycle.
    explained_by=(
        "pop",
        "spike",
        "centre-jump",
        "size-jump",
        "noisy-frame",
        "frozen",
        "swapped-frames",
        "winding",
        "vertex-order",
        "up-axis-suspect",
    ),
)
