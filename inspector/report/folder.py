"""A folder's inspection as a short verdict for people."""

from __future__ import annotations

from collections.abc import Sequence

from inspector.inspection.inspection import FolderInspection
from inspector.names import Name
from inspector.report.summary import summary_lines
from inspector.report.text import below, counted, sequence_lines, verdict_text
from inspector.report.text_style import Look
from inspector.rules.model import Rules

_LEFT_OUT_SHOWN = 5


def folder_text(result: FolderInspection, next_steps: Sequence[str], look: Look) -> str:
    """What was found, worst first within each sequence; the last lines are the verdict and what to run next."""
    lines: list[str] = []
    for one in result.inspections:
        lines += [*sequence_lines(one, look), ""]
    left_out = [line for note in rest_notes(result) for line in look.wrap(note, "left out: ")]
    lines += [*left_out, ""] if left_out else []
    rules = rules_words(result.settings.rules)
    lines += [] if rules is None else [*look.wrap(rules, "rules: "), ""]
    lines += summary_lines(result, look)
    lines += look.wrap(verdict_text(result), "verdict: ")
    lines += [look.plain(step) for step in next_steps]
    return "\n".join(lines) + "\n"


def rest_notes(result: FolderInspection) -> list[str]:
    """What else the folder holds, the first few of it."""
    notes = [
        f"{below(one.folder, one.pattern)} ({counted(one.count, 'file')}): {one.reason}" for one in result.not_sequences
    ]
    paths = result.discovery.left_out
    notes += [f"{Name.from_path(path.relative_to(result.root))}: {reason}" for path, reason in paths[:_LEFT_OUT_SHOWN]]
    return [*notes, f"and {len(paths) - _LEFT_OUT_SHOWN:,} more"] if len(paths) > _LEFT_OUT_SHOWN else notes


def rules_words(rules: Rules) -> str | None:
    """Which rules the verdict was given under, and what they changed: nobody is to be surprised by them."""
    if rules.file is None:
        return None
    off = [check for check, rule in rules.checks.items() if rule.severity == "off"]
    other = len(rules.checks) - len(off)
    parts = [counted(len(rules.demands), "demand"), f"{counted(other, 'check')} judged otherwise" if other else ""]
    parts.append(f"switched off: {', '.join(off)}" if off else "")
    return f"{Name.from_path(rules.file)} ({'; '.join(filter(None, parts))})"
