"""Sequences in which the step between frame numbers changes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, pairwise

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.names import counted
from inspector.sequence.discovery.settings import frame_text
from inspector.threshold import Threshold

STEP_RUN = Threshold(
    "step-run",
    4,
    "A difference between frame numbers counts as a step only if at least this many consecutive differences are equal. "
    "If fewer differences are equal, the numbers that are skipped count as missing frames.",
    unit="differences",
)

_LISTED = 4
"""Maximum number of ranges listed in the message."""


@dataclass(frozen=True, slots=True)
class _StepRun:
    """A run of two or more frame numbers in which the step from each number to the next is the same."""

    step: Fraction
    numbers: tuple[Fraction, ...]


def run(context: CheckContext) -> Iterator[Finding]:
    numbers = sorted({facts.number for facts in context.series.facts})
    runs = [run for run in _runs(numbers) if len(run.numbers) > STEP_RUN.value]
    steps = sorted({run.step for run in runs})
    if len(steps) < 2:
        return
    coarse = [run for run in runs if run.step > steps[0]]
    changes = ", ".join(
        f"{frame_text(run.numbers[0])}-{frame_text(run.numbers[-1])} in steps of {frame_text(run.step)}"
        for run in runs[:_LISTED]
    )
    if len(runs) > _LISTED:
        changes += f", and {counted(len(runs) - _LISTED, 'more range')}"
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"the frame step changes: {changes}",
        tuple(dict.fromkeys(number for run in coarse for number in run.numbers)),
        numbers={"smallest": float(steps[0]), "largest": float(steps[-1])},
    )


def _runs(numbers: list[Fraction]) -> Iterator[_StepRun]:
    pairs = [(after - before, before, after) for before, after in pairwise(numbers)]
    for step, members in groupby(pairs, key=lambda pair: pair[0]):
        inside = list(members)
        yield _StepRun(step, (inside[0][1], *(after for _, _, after in inside)))


CHECK = Check(
    id="step-change",
    title="Frame step changes",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Part of the range has every frame. Another part has only every second or third frame, or also has "
        "sub-frames.",
        after_import="In the part with the larger frame step, the motion stutters. Programs that ignore the frame "
        "numbers play this part faster than the rest.",
        what_to_do="Export all frames with the same step. Or let the fix `fill-frames` estimate the missing frames "
        "from their neighbours.",
    ),
    run=run,
    scope=CheckScope.FILES,
    thresholds=(STEP_RUN,),
)
