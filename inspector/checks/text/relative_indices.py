"""Indices that count back from their line."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="relative-indices",
    title="Relative indices",
    kinds={"relative-index": Severity.NOTE},
    rationale=Rationale(
        what="Faces count vertices back from their own line (-1 is the last one above). The format allows it.",
        after_import="Some readers count back from the end of the file instead: faces land on wrong vertices.",
        what_to_do="If the import looks torn, export with positive indices.",
    ),
    fixes=("positive-indices",),
    element="face",
    needs=(Trait.STATEMENTS,),
)
