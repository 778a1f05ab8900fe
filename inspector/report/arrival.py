"""A frame that arrived, as text for people."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.finding import Finding
from inspector.inspection.arrivals import Arrival
from inspector.report.text import counts_text
from inspector.report.text_style import Look


def arrival_lines(arrival: Arrival, look: Look) -> Iterator[str]:
    """One line for a frame without a finding, one a finding for others; each begins with the sign of its severity."""
    name = arrival.file.display
    if not arrival.findings:
        yield look.plain(f"{'.':{Look.SEVERITY_CELLS}}{name}  {counts_text(arrival.facts)}")
    for finding in arrival.findings:
        later = "" if arrival.new else "seen now: "
        said = f"{name}{_line(finding, arrival)}  {later}{finding.check}: {finding.message}"
        yield look.severity(finding.severity) + look.plain(said)


def _line(finding: Finding, arrival: Arrival) -> str:
    """`:1882` where the finding's places name a line of this very file."""
    lines = [place.line for place in finding.where if place.file == arrival.file and place.line is not None]
    return f":{lines[0]}" if lines else ""
