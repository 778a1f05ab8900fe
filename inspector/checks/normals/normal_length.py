"""Normals whose length is not 1."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.faults import fault_finding, faults
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import usable
from inspector.formats.format import Trait
from inspector.sequence.measure.surface_facts import NORMAL_LENGTH


def run(context: CheckContext) -> Iterator[Finding]:
    frames = usable(context)
    for kind, fix, words in (
        ("zero-normal", "recompute-normals", "of length 0, and therefore without a direction"),
        ("normal-length", "unit-normals", "of a length other than 1, which some readers don't correct"),
    ):
        met = faults(context, kind, frames)
        if met:
            yield fault_finding(context, CHECK.id, Severity.WARNING, met, words, thing="normal", fixes=(fix,))


CHECK = Check(
    id="normal-length",
    title="Length of normals",
    severity=Severity.WARNING,
    needs=(Trait.NORMALS,),
    rationale=Rationale(
        what="A normal is a direction, and exporters usually write it with length 1. The format doesn't require this "
        "length, but most readers rely on it.",
        after_import="In programs that don't correct the lengths, the shading is too bright or too dark. Where normals "
        "have length 0, the shading is black.",
        what_to_do="Apply the object's scale before the export, or use the fix `unit-normals`, which scales the "
        "normals to length 1. Normals of length 0 must be computed again, for example with the fix "
        "`recompute-normals`.",
    ),
    run=run,
    fixes=("unit-normals", "recompute-normals"),
    thresholds=(NORMAL_LENGTH,),
)
