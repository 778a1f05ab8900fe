"""Faces that name vertices which don't exist."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import without_vertex
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import problem_findings


def run(context: CheckContext) -> Iterator[Finding]:
    yield from problem_findings(
        context,
        CHECK.id,
        ("index-zero", "index-range"),
        Severity.ERROR,
        CHECK.fixes,
        element="face",
        unless="zero-based",
    )


CHECK = Check(
    id="index-range",
    title="Vertex index out of range",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="A face names a vertex number that the file doesn't have. The format counts from 1.",
        after_import="The import fails, or faces stretch to a wrong point.",
        what_to_do="Export the frame again: the vertices and the faces come from different states of the mesh.",
    ),
    run=run,
    fixes=("fill-frames",),
    affected_faces=without_vertex,
)
