"""Whether the last frame leads back to the first: a loop, and how well it closes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.check import Check, NotApplicable, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts
from inspector.checks.base.off_path import off_path
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.series import Series
from inspector.threshold import Threshold

LOOP_EVEN = Threshold(
    "loop-even",
    1.5,
    "Usual (median) steps up to which the step from the last frame to the first is like any other.",
    "usual steps",
)
LOOP_SEAM = Threshold(
    "loop-seam",
    3.0,
    "Steps up to which the last frame may be from the first for a loop that doesn't quite close: more is just "
    "another place.",
    "usual steps",
)
LOOP_AWAY = Threshold(
    "loop-away",
    2.5,
    "How many times farther than over the seam, and than any step, the motion must have been from its first "
    "frame: otherwise it never left, or leapt back. A round of eight frames has 2.6, twice the radius over a "
    "chord of 45 degrees.",
)

_SHORTEST = 3
"""Frames of a round: two that alternate are no motion."""


@dataclass(frozen=True, slots=True)
class Seam:
    """Mean ways of the sampled vertices, scene units: from the last frame to the first; the usual (median) step; the
    longest step, and the farthest from the first frame, both without frames that are off their path. held: nothing
    moves on both sides of the seam."""

    way: float
    usual: float
    longest: float
    away: float
    held: bool


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    series = context.series
    seam = _seam(context)
    if seam.away <= LOOP_AWAY.value * max(seam.way, seam.longest) or seam.usual == 0.0:
        return
    length = _round(series)
    count = len(series.facts)
    numbers: dict[str, float | int | str | None] = {"seam": seam.way, "step": seam.usual, "round": length or count}
    if length is not None and length < count - 1:
        kind, words = "rounds", f"comes round every {length} frames, and all that follows the first round repeats it"
    elif seam.way == 0.0 and not seam.held:
        first = frame_text(series.facts[0].number)
        kind, words = "doubled", f"a loop whose last frame is frame {first} again: played on, this pose stands twice"
    elif seam.way <= LOOP_EVEN.value * seam.usual:
        kind, words = "closed", "a loop: the step from the last frame to the first is like any other"
    elif seam.way <= LOOP_SEAM.value * seam.usual:
        kind = "open"
        words = f"nearly a loop: from the last frame to the first it is {seam.way:.4g} units, where a step has "
        words += f"{seam.usual:.4g}"
    else:
        return
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        words,
        (series.facts[0].number, series.facts[-1].number),
        numbers={"kind": kind, **numbers},
        fixes=CHECK.fixes if length is not None else (),
    )


def _seam(context: CheckContext) -> Seam:
    """Raises NotApplicable where the frames can't be compared."""
    series = context.series
    places = series.samples
    if len(places) <= _SHORTEST or series.sequence.missing or len({one.number for one in series.facts}) < len(places):
        raise NotApplicable("too few frames to be a loop, or some are missing or there twice")
    if not places.shape[1] or not np.isfinite(places).all():
        raise NotApplicable("there are frames that can't be compared with the others")
    with np.errstate(over="ignore"):
        steps = _ways(places[1:], places[:-1])
        away = _ways(places, places[:1])
    if not np.isfinite(away).all():
        raise NotApplicable("places are too far apart to be compared")
    held = bool(steps[0] == steps[-1] == 0.0)
    good = np.ones(len(places), bool)
    good[off_path(context)] = False
    longest = steps[good[1:] & good[:-1]].max(initial=0.0)
    return Seam(float(away[-1]), float(np.median(steps)), float(longest), float(away[good].max(initial=0.0)), held)


def _ways(here: Floats, there: Floats) -> Floats:
    """(n,): mean distances of the sampled vertices (n, s, 3)."""
    return np.asarray(np.linalg.norm(here - there, axis=-1).mean(axis=-1))


def _round(series: Series) -> int | None:
    """The fewest frames after which every frame is the one so many before; None where that isn't so."""
    known: dict[tuple[bytes, object], int] = {}
    looks = [(place.tobytes(), one.box) for place, one in zip(series.samples + 0.0, series.facts, strict=True)]
    poses = np.array([known.setdefault(look, len(known)) for look in looks])  # -0.0 + 0.0 is 0.0
    for length in range(_SHORTEST, len(poses)):
        if poses[length] == poses[0] and np.array_equal(poses[length:], poses[:-length]):
            return length
    return None


CHECK = Check(
    id="loop",
    title="Loop",
    severity=Severity.NOTE,
    rationale=Rationale(
        what="The motion ends where it began, so that the sequence can be played round and round.",
        after_import="Nothing, if it is played once. Played as a loop, a first frame that is there again at the end "
        "makes a hitch at each round, and one that is off by more than a step makes a jump.",
        what_to_do="To loop it, drop the doubled frame (the fix does, and drops further rounds); an open seam is "
        "closed in the scene.",
    ),
    run=run,
    fixes=("trim-loop",),
    scope=Scope.SEQUENCE,
    thresholds=(LOOP_EVEN, LOOP_SEAM, LOOP_AWAY),
)
