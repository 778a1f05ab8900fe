"""Statements over several lines."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="continued-lines",
    title="Continued lines",
    kinds={"continued-line": Severity.NOTE},
    rationale=Rationale(
        what="A backslash at a line's end continues the statement on the next line. The format allows it; hardly "
        "any writer does it.",
        after_import="Readers that go line by line lose the rest of the statement: corners of faces go missing.",
        what_to_do="If the import shows holes, export without line breaks inside statements.",
    ),
    fixes=("clean-text",),
    needs=(Trait.STATEMENTS,),
)
