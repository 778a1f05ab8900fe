"""Files whose text is neither ASCII nor plain UTF-8."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check
from inspector.formats.format import Trait

CHECK = note_check(
    id="encoding",
    title="Text encoding",
    kinds={"byte-order-mark": Severity.WARNING, "wide-text": Severity.WARNING, "not-utf8": Severity.WARNING},
    rationale=Rationale(
        what="The text is UTF-16, carries a byte-order mark, or has bytes that are not UTF-8 (accented names, mostly).",
        after_import="Some imports find nothing in the file, lose its first line, or no longer match names of "
        "materials and textures.",
        what_to_do="Keep names to plain letters, and save as UTF-8 without a mark.",
    ),
    fixes=("clean-text",),
    unanswered=("not-utf8",),
    needs=(Trait.STATEMENTS,),
)
