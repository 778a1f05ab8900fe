"""Frames whose ending names another format than the one that they are in."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check

CHECK = note_check(
    "other-format",
    "Ending and content disagree",
    {"other-format": Severity.ERROR},
    Rationale(
        what="The file's name ends like one format, and its content is another one.",
        after_import="Most imports go by the ending: this frame fails, or the whole sequence does.",
        what_to_do="Rename the file, or export it again in the format that you want. It was read here by its content; "
        "a corrected folder holds it as OBJ.",
    ),
)
