"""Write an inspection as a short text."""

from __future__ import annotations

from typing import TYPE_CHECKING

from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection


def render(result: FolderInspection, request: Request) -> str:
    """Describe each sequence and its findings, the worst finding first. Then write the verdict and the commands to run
    next."""
    from inspector.report.text import rest_notes, rules_words, sequence_lines, summary_lines, verdict_text

    style = request.style
    lines: list[str] = []
    for one in result.inspections:
        lines += [*sequence_lines(one, style), ""]
    left_out = [line for note in rest_notes(result) for line in style.wrap(note, "left out: ")]
    lines += [*left_out, ""] if left_out else []
    rules = rules_words(result.settings.rules)
    lines += [] if rules is None else [*style.wrap(rules, "rules: "), ""]
    lines += summary_lines(result, style)
    lines += style.wrap(verdict_text(result), "verdict: ")
    lines += [style.plain(step) for step in request.next_steps]
    return "\n".join(lines) + "\n"


FORMAT = ReportFormat("text", "for people (default)", render)
