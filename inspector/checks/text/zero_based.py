"""Faces that count vertices from 0."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="zero-based",
    title="Indices count from 0",
    kinds={"zero-based": Severity.ERROR},
    rationale=Rationale(
        what="The lowest index is 0 and the highest is one below the number of vertices: the writer counts from 0, "
        "the format from 1.",
        after_import="Every face hangs on the vertices beside its own, or the import fails at the first 0.",
        what_to_do="Correct the exporter, which must add 1 to each index.",
    ),
    fixes=("positive-indices",),
    element="face",
    needs=(Trait.STATEMENTS,),
)
