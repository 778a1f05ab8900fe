"""One line a finding, in the form that editors and queues take apart: `file:line: severity: message [check]`.

Form: GNU Coding Standards, "Formatting Error Messages".
"""

from __future__ import annotations

from pathlib import Path

from inspector.checks.base.finding import Finding
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name, safe
from inspector.sequence.discovery.frame_ranges import frames_words


def lines_text(result: FolderInspection, folder: Path) -> str:
    """The findings of each sequence, worst first; nothing for a folder without any. Files are named below `folder`.

    What has no line of its own points to line 1, and what has no file (a missing frame) to the sequence's first.
    """
    lines = [finding_line(finding, one, folder) for one in result.inspections for finding in one.findings]
    return "".join(f"{line}\n" for line in lines)


def finding_line(finding: Finding, one: Inspection, folder: Path) -> str:
    """One finding on one line, safe on any screen."""
    place = finding.where[0] if finding.where else None
    file, line = (place.file, place.line or 1) if place else (one.context.file_name(0), 1)
    said = f"{finding.message}{frames_words(finding.frames, one.sequence)}"
    return f"{Name.from_path(folder / file.text)}:{line}: {finding.severity.word}: {safe(said)} [{finding.check}]"
