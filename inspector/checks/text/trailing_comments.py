"""Comments on the lines of numbers."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="trailing-comments",
    title="Comments behind data",
    kinds={"comment-behind-data": Severity.WARNING},
    rationale=Rationale(
        what="A comment stands behind the numbers of a line; the format has comments on lines of their own.",
        after_import="Many readers refuse the whole file over it.",
        what_to_do="Switch annotations off in the export.",
    ),
    fixes=("clean-text",),
    needs=(Trait.STATEMENTS,),
)
