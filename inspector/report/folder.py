"""A folder's inspection as a short verdict for people."""

from __future__ import annotations

from collections.abc import Sequence

from inspector.checks.base.inspect import FolderInspection
from inspector.names import Name
from inspector.report.look import Look
from inspector.report.summary import summary_lines
from inspector.report.text import below, counted, sequence_lines, verdict_text
from inspector.rules.model import Rules

_LEFT_OUT_SHOWN = 5


def folder_text(result: FolderInspection, next_steps: Sequence[str], look: Look) -> str:
    """What was found, worst first within each sequence; the last lines are the verdict and what to run next."""
    lines: list[str] = []
    for one in result.inspections:
        lines += [*sequence_lines(one, look), ""]
    lines += _rest(result, look)
    lines += _rules(result.settings.rules, look)
    lines += summary_lines(result, look)
    lines += look.wrap(verdict_text(result), "verdict: ")
    lines += [look.plain(step) for step in next_steps]
    return "\n".join(lines) + "\n"


def _rest(result: FolderInspection, look: Look) -> list[str]:
    """What else the folder holds."""
    notes = [
        f"{below(one.folder, one.pattern)} ({counted(one.count, 'file')}): {one.reason}" for one in result.not_sequences
    ]
    paths = [(path, "a mesh file without a frame number") for path in result.discovery.stills]
    paths += result.discovery.unusual
    notes += [f"{Name.from_path(path.relative_to(result.root))}: {reason}" for path, reason in paths[:_LEFT_OUT_SHOWN]]
    if len(paths) > _LEFT_OUT_SHOWN:
        notes.append(f"and {len(paths) - _LEFT_OUT_SHOWN:,} more")
    lines = [line for note in notes for line in look.wrap(note, "left out: ")]
    return [*lines, ""] if lines else []


def _rules(rules: Rules, look: Look) -> list[str]:
    """Which rules the verdict was given under, and what they changed: nobody is to be surprised by them."""
    if rules.file is None:
        return []
    off = [check for check, rule in rules.checks.items() if rule.severity == "off"]
    other = len(rules.checks) - len(off)
    parts = [counted(len(rules.demands), "demand"), f"{counted(other, 'check')} judged otherwise" if other else ""]
    parts.append(f"switched off: {', '.join(off)}" if off else "")
    said = "; ".join(filter(None, parts))
    return [*look.wrap(f"{Name.from_path(rules.file)} ({said})", "rules: "), ""]
