"""Statements that would include files or run programs."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="executable-statements",
    title="Statements that act",
    kinds={"acting-statement": Severity.WARNING},
    rationale=Rationale(
        what="call would include another file, csh would run a command of the system. This tool does neither.",
        after_import="What an included file holds is missing; a reader that obeys runs a program of whoever wrote the "
        "file.",
        what_to_do="Ask where the file comes from. Export all in one file, without these lines.",
    ),
    fixes=("drop-executable",),
    needs=(Trait.STATEMENTS,),
)
