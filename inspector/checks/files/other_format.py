"""Frames whose content is not in the format of their file extension."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check

CHECK = note_check(
    "other-format",
    "Extension doesn't match content",
    {"other-format": Severity.ERROR},
    Rationale(
        what="The file has the extension of one format, but its content is in a different format.",
        after_import="Most readers rely on the extension, so the import of this frame or of the whole sequence fails.",
        what_to_do="Rename the file, or export the frame again in the intended format. This tool reads the file "
        "according to its content, and writes the frame as OBJ in a corrected copy.",
    ),
)
