"""Frames that can be read but have no vertices."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files


def run(context: CheckContext) -> Iterator[Finding]:
    facts = context.series.facts
    empty = [index for index, one in enumerate(facts) if one.readable and not one.filled]
    filled = [index for index, one in enumerate(facts) if one.filled]
    if not filled and empty:
        yield _finding(context, Severity.WARNING, empty, "no frame has a vertex, so nothing is visible")
    if not filled:
        return
    between = [index for index in empty if filled[0] < index < filled[-1]]
    before = [index for index in empty if index < filled[0]]
    after = [index for index in empty if index > filled[-1]]
    if between:
        what = f"{count_of(len(between), 'empty frame')} between frames that have a mesh"
        yield _finding(context, Severity.WARNING, between, what, CHECK.fixes)
    if before or after:
        where = ["before the mesh appears"] * bool(before) + ["after the mesh disappears"] * bool(after)
        indices = before + after
        what = f"{count_of(len(indices), 'empty frame')} {' and '.join(where)}"
        yield _finding(context, Severity.NOTE, indices, what)


def _finding(
    context: CheckContext, severity: Severity, indices: list[int], what: str, fixes: tuple[str, ...] = ()
) -> Finding:
    return Finding(
        CHECK.id,
        severity,
        what,
        context.numbers(indices),
        files(context, indices),
        {"frames": len(indices)},
        fixes=fixes,
    )


CHECK = Check(
    id="empty-frames",
    title="Empty frames",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The file is complete but has no vertices. Simulations write empty frames before anything is emitted, and "
        "exporters write them while the object is hidden.",
        after_import="The object is missing on these frames. Some readers stop at a file without a mesh.",
        what_to_do="If the object should be visible on these frames, export them again, or let the fix `fill-frames` "
        "estimate them from their neighbours. Otherwise, start and end the sequence with frames that have a mesh.",
    ),
    run=run,
    fixes=("fill-frames",),
)
