"""Steps in an even motion that are as long as two or more: frames were dropped, and the rest numbered anew."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.checks.base.check import Check, NotApplicable, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, count_of, files
from inspector.checks.base.pace import DROPPED_AIM, DROPPED_RUN, DROPPED_STEADY, DROPPED_STEP, dropped_before


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    if len(context.series.facts) < 2 * DROPPED_RUN.value + 2:
        raise NotApplicable("too few frames to know their pace")
    found = dropped_before(context)
    if not found:
        return
    most = max(found.values())
    lost = sum(max(1, round(steps) - 1) for steps in found.values())
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"a step as long as {most:.2g} in an even motion: about {count_of(lost, 'frame')} dropped before it, "
        "though the numbers are complete",
        context.numbers(list(found)),
        files(context, found),
        {"steps": float(np.round(most, 3)), "dropped": lost},
    )


CHECK = Check(
    id="dropped-frames",
    title="Frames dropped, the rest renumbered",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The motion runs evenly but for one step that is as long as two or more. Frames are missing there, and "
        "those behind were numbered anew, so that the range looks complete.",
        after_import="A hitch in the motion, and from there on everything comes too early against sound and plate.",
        what_to_do="Count the frames of the scene and export the sequence again; no file tells what is lost.",
    ),
    run=run,
    scope=Scope.SEQUENCE,
    thresholds=(DROPPED_STEP, DROPPED_STEADY, DROPPED_RUN, DROPPED_AIM),
)
