"""Corners with a slash and nothing behind it."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="empty-indices",
    title="Empty slots in corners",
    kinds={"empty-slot": Severity.WARNING},
    rationale=Rationale(
        what="A corner ends in a slash without the number that should follow (1/ or 1/2/).",
        after_import="Some readers take the next corner's number for it, and UVs go astray.",
        what_to_do="Export again without the slots that are not used.",
    ),
    fixes=("clean-text",),
    element="face",
    needs=(Trait.STATEMENTS,),
)
