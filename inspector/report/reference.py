"""Describe checks and fixes as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches

from inspector.checks.base.check import Check
from inspector.checks.base.registry import all_checks
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import AnyFix, FixKind
from inspector.fixes.base.registry import all_fixes, fix_by_id
from inspector.names import counted, safe
from inspector.report.text_style import TextStyle
from inspector.threshold import Threshold

_KINDS = {
    FixKind.LOSSLESS: "adds nothing and drops nothing; used by default if it can correct an error or a warning",
    FixKind.ONE_CONSTANT: "applies one constant to all frames; to use this fix, add --all or --with to meshqc fix",
    FixKind.CHANGES_DATA: "to use this fix, add --all or --with to meshqc fix",
}


def lookup(identifier: str) -> Check | AnyFix:
    """Find the check or fix with a given id.

    Raises:
        MeshqcError: No check or fix has this id. The message lists similar ids, if there are any.
    """
    subjects: list[Check | AnyFix] = [*all_checks(), *all_fixes()]
    known = {one.id: one for one in subjects}
    if identifier in known:
        return known[identifier]
    near = get_close_matches(identifier.strip().lower().replace("_", "-"), known, n=3)
    hint = f"nearest: {', '.join(near)}" if near else "`meshqc checks` lists all checks"
    raise MeshqcError(f"no check or fix has the id {safe(identifier)}; {hint}")


def table_text(checks: Sequence[Check], style: TextStyle) -> str:
    """Make a table with one row per check: id, highest severity, title, and the fixes that can correct its findings."""
    width = max(len(check.id) for check in checks) + 1
    lines = [style.strong(f"{'check'.ljust(width)}{'worst'.ljust(TextStyle.SEVERITY_CELLS)}what it finds")]
    for check in checks:
        start = " " * (width + TextStyle.SEVERITY_CELLS)
        title, *more = style.wrap(check.title, start)
        lines += [check.id.ljust(width) + style.severity(check.severity) + title[len(start) :], *more]
        lines += style.wrap(", ".join(check.fixes), f"{start}fix: ") if check.fixes else []
    return "\n".join([*lines, f"{counted(len(checks), 'check')}; `meshqc explain ID` explains a check or a fix"]) + "\n"


def page_text(subject: Check | AnyFix, style: TextStyle) -> str:
    lines = _check_lines(subject, style) if isinstance(subject, Check) else _fix_lines(subject, style)
    return "\n".join(lines) + "\n"


def _check_lines(check: Check, style: TextStyle) -> Iterator[str]:
    yield style.strong(f"{check.id}: {check.title}")
    yield f"a check; highest severity: {style.severity(check.severity).strip()}"
    yield from _part("What it is", [check.rationale.what], style)
    yield from _part("After the import", [check.rationale.after_import], style)
    yield from _part("What to do", [check.rationale.what_to_do], style)
    fixes = [fix_by_id(name) for name in check.fixes]
    yield from _items("Fixes", [(f"{fix.id} ({fix.kind.value})", fix.does) for fix in fixes], style)
    thresholds = [(threshold_text(threshold), threshold.why) for threshold in check.thresholds]
    yield from _items("Thresholds", thresholds, style)
    names = ", ".join(check.settable_names)
    yield from _part("Thresholds that delivery rules can set", [names] if names else [], style)


def _fix_lines(fix: AnyFix, style: TextStyle) -> Iterator[str]:
    yield style.strong(f"{fix.id}: {fix.title}")
    yield from style.wrap(f"a fix ({fix.kind_text}): {_KINDS[fix.kind]}", hang="  ")
    yield from _part("What it does", [fix.does], style)
    yield from _part("What it adds, estimates or drops", [fix.cost] if fix.cost else [], style)
    typed = f" (--with {fix.id}:{next(iter(fix.parameters))}=VALUE)" if fix.parameters else ""
    yield from _items(f"Parameters{typed}", list(fix.described.items()), style)
    answers = [f"{check.id} ({check.severity.word}): {check.title}" for check in answered_by(fix)]
    yield from _part(
        "Findings that the fix can correct", answers or ["none; to apply the fix, name it with --with"], style
    )


def answered_by(fix: AnyFix) -> list[Check]:
    """Return the checks whose findings a fix can correct."""
    return [check for check in all_checks() if fix.id in check.fixes]


def _part(heading: str, texts: Sequence[str], style: TextStyle) -> Iterator[str]:
    """Yield a heading and the texts below it; nothing if there are no texts."""
    if texts:
        yield from ("", style.strong(heading))
    for text in texts:
        yield from style.wrap(text, "  ")


def _items(heading: str, items: Sequence[tuple[str, str]], style: TextStyle) -> Iterator[str]:
    """Yield a heading and, below it, pairs of a name and a text; nothing if there are no pairs."""
    if items:
        yield from ("", style.strong(heading))
    for name, text in items:
        yield from style.wrap(name, "  ")
        yield from style.wrap(text, "      ")


def threshold_text(threshold: Threshold[object]) -> str:
    """Format a threshold with its value and unit, as in `jump diagonals = 0.1 diagonals`."""
    return f"{threshold.name.replace('-', ' ')} = {value_text(threshold.value)} {threshold.unit}".rstrip()


def value_text(value: object) -> str:
    """Format the value of a threshold: a number as `0.1`, a tuple as `0.7, 1.4`, a mapping as `10: 1.5, 2.54: 1.15`."""
    if isinstance(value, Mapping):
        return ", ".join(f"{key:g}: {number:g}" for key, number in value.items())
    if isinstance(value, Iterable):
        return ", ".join(map(value_text, value))
    return f"{value:,}" if isinstance(value, int) else f"{value:g}" if isinstance(value, float) else str(value)


def value_json(value: object) -> object:
    """Convert the value of a threshold to a value for JSON. A mapping becomes a list of pairs."""
    if isinstance(value, Mapping):
        return [list(pair) for pair in value.items()]
    return list(value) if isinstance(value, tuple) else value
