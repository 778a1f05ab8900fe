"""Frames that can't be read, or whose file ends early."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files, problem_places
from inspector.checks.base.topology_changes import ending_open
from inspector.checks.base.whole_surfaces import SIDE_SHARE
from inspector.formats.problems import KINDS, Problem


def run(context: CheckContext) -> Iterator[Finding]:
    by_kind: dict[str, list[tuple[int, Problem]]] = {}
    for index, facts in enumerate(context.series.facts):
        if not facts.readable and not facts.problem("still-written"):
            by_kind.setdefault(facts.problems[0].kind, []).append((index, facts.problems[0]))
    for kind, met in by_kind.items():
        reason = met[0][1].places[0].text
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            KINDS[kind] + (f": {reason.display}" if reason is not None else ""),
            context.numbers([index for index, _ in met]),
            problem_places(context, met, None),
            {"kind": kind},
            CHECK.fixes,
        )
    short = np.flatnonzero(context.series.cut_short).tolist()
    if short:
        facts, base = context.series.facts[short[0]], context.series.reference_facts
        unended = ", and no line ending after the last line" if facts.problem("no-final-newline") else ""
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            f"the file ends early: {facts.vertices:,} of {base.vertices:,} vertices and {facts.faces:,} of "
            f"{base.faces:,} faces{unended}",
            context.numbers(short),
            files(context, short),
            {"kind": "cut-short", "vertices": facts.vertices, "faces": facts.faces},
            CHECK.fixes,
        )
    torn = ending_open(context)
    if torn:
        facts = context.series.facts[torn[0]]
        belongs = "belongs" if facts.unused_vertices == 1 else "belong"
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            f"the file probably ends early: {count_of(facts.unused_vertices, 'vertex')} {belongs} to no face, and the "
            f"surface has {count_of(facts.boundary_edges, 'boundary edge')}, although it is closed on the other frames",
            context.numbers(torn),
            files(context, torn),
            {"kind": "torn", "unused": facts.unused_vertices, "boundary": facts.boundary_edges},
            CHECK.fixes,
        )


CHECK = Check(
    id="unreadable",
    title="Unreadable or cut-off frame",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The file can't be opened, is empty, is not a mesh, or ends early.",
        after_import="The import stops at this frame, or the object is missing or torn on this frame.",
        what_to_do="Export the frame again. If that isn't possible, let the fix `fill-frames` estimate it from its "
        "neighbours.",
    ),
    run=run,
    fixes=("fill-frames",),
    thresholds=(SIDE_SHARE,),
)
