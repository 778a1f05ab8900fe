"""Geometry that is no polygon."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="free-form",
    title="Curves, lines and points",
    kinds={"free-form": Severity.WARNING, "not-polygonal": Severity.NOTE},
    rationale=Rationale(
        what="The file holds free-form curves or surfaces, or line and point elements, beside or instead of polygons.",
        after_import="An import of polygons leaves them out: parts of the object are missing, or nothing of it shows.",
        what_to_do="Turn what should be seen into polygons before the export.",
    ),
    needs=(Trait.STATEMENTS,),
)
