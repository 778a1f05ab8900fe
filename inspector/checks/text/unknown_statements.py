"""Lines whose first word the format doesn't know."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="unknown-statements",
    title="Unknown statements",
    kinds={"unknown-statement": Severity.WARNING},
    rationale=Rationale(
        what="Lines begin with a word that is none of the format's: an extension of one program, or damage.",
        after_import="Readers skip these lines, or stop at them.",
        what_to_do="Look at the first place. If it is an extension, the import does without it; if it is damage, "
        "export again.",
    ),
    needs=(Trait.STATEMENTS,),
)
