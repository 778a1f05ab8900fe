"""Frames whose content is in a different format from that stated by the extension of the file name."""

from __future__ import annotations

from inspector.checks.base.check import Rationale
from inspector.checks.base.finding import Severity
from inspector.checks.base.notes import note_check

CHECK = note_check(
    "other-format",
    "Extension doesn't match content",
    {"other-format": Severity.ERROR},
    Rationale(
        what="The file name has the extension of one format, but the content is in another.",
        after_import="Most imports rely on the extension: this frame fails to import, or the whole sequence does.",
        what_to_do="Rename the file, or export it again in the intended format. This tool read it according to its "
        "content, and writes it as OBJ in a corrected copy.",
    ),
)
