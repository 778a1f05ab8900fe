"""Frames whose content has a different format from the ending of their file name."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check

CHECK = note_check(
    "other-format",
    "File ending and content disagree",
    {"other-format": Severity.ERROR},
    Rationale(
        what="The file name has the ending of one format, and the content is in another.",
        after_import="Most imports go by the ending: this frame fails, or the whole sequence does.",
        what_to_do="Rename the file, or export it again in the format that you want. Here it was read by its content; "
        "a corrected folder holds it as OBJ.",
    ),
)
