"""Vertices of which only some carry a weight or a colour."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="extra-numbers",
    title="Numbers behind some positions",
    kinds={"partial-extras": Severity.WARNING},
    rationale=Rationale(
        what="Some vertices carry more than x, y, z (a weight, or a colour) and others don't.",
        after_import="Readers that count on one width refuse the file or shift all positions behind the first odd "
        "line.",
        what_to_do="Export vertex colours for all vertices or for none.",
    ),
    needs=(Trait.STATEMENTS,),
)
