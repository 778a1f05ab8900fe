"""Write one line per finding, in a form that editors and render queues can parse.

The form is `file:line: severity: message [check]` (GNU Coding Standards, "Formatting Error Messages").
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from inspector.checks.base.finding import Finding
from inspector.names import Name, safe
from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection, Inspection


def render(result: FolderInspection, request: Request) -> str:
    """Return the findings of each sequence, one per line, the worst first; "" if there are no findings. Paths include
    the inspected folder.

    If a finding has no line number, the line is 1. If a finding has no file, as for a missing frame, the file is the
    first file of the sequence.
    """
    lines = [finding_line(finding, one, request.folder) for one in result.inspections for finding in one.findings]
    return "".join(f"{line}\n" for line in lines)


def finding_line(finding: Finding, one: Inspection, folder: Path) -> str:
    """Write a finding as one line that is safe to show on any screen. Paths include the folder."""
    from inspector.sequence.discovery.frame_ranges import frames_words

    place = finding.where[0] if finding.where else None
    file, line = (place.file, place.line or 1) if place else (one.context.file_name(0), 1)
    said = f"{finding.message}{frames_words(finding.frames, one.sequence)}"
    return f"{Name.from_path(folder / file.text)}:{line}: {finding.severity.word}: {safe(said)} [{finding.check}]"


FORMAT = ReportFormat("lines", "file:line: severity: message [check], for editors", render, names_rules=False)
