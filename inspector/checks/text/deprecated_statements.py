"""Statements that a later version of the format replaced."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="deprecated-statements",
    title="Superseded statements",
    kinds={"superseded": Severity.WARNING},
    rationale=Rationale(
        what="The file uses statements that the format has replaced: fo for faces; bsp, bzp, cdc, cdp, res for "
        "patches.",
        after_import="Readers of today don't know them: faces or patches are missing.",
        what_to_do="Write faces as f; turn patches into polygons before the export.",
    ),
    fixes=("clean-text",),
    needs=(Trait.STATEMENTS,),
)
