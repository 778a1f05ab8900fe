"""What the tool knows of its checks and fixes: the table of all checks, and a page for one check or fix."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from difflib import get_close_matches

from inspector.checks.base.check import Check
from inspector.checks.base.registry import all_checks
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import AnyFix, FixKind
from inspector.fixes.base.registry import all_fixes, fix_by_id
from inspector.names import safe
from inspector.report.text_style import Look
from inspector.report.thresholds import threshold_text

_KINDS = {
    FixKind.LOSSLESS: "adds nothing and drops nothing; plain meshqc fix applies it where it answers a finding",
    FixKind.ONE_CONSTANT: "one declared number for all frames; applied by --all or --with",
    FixKind.CHANGES_DATA: "adds, estimates or drops data; applied by --all or --with",
}


def lookup(identifier: str) -> Check | AnyFix:
    """The check or fix with that id. Raises MeshqcError that names the nearest ids there are."""
    subjects: list[Check | AnyFix] = [*all_checks(), *all_fixes()]
    known = {one.id: one for one in subjects}
    if identifier in known:
        return known[identifier]
    near = get_close_matches(identifier.strip().lower().replace("_", "-"), known, n=3)
    hint = f"nearest: {', '.join(near)}" if near else "meshqc checks lists the checks"
    raise MeshqcError(f"there is no check and no fix {safe(identifier)}; {hint}")


def table_text(checks: Sequence[Check], look: Look) -> str:
    """A row a check: id, the worst severity that it gives, its title, and below it the fixes that can answer it."""
    width = max(len(check.id) for check in checks) + 1
    lines = [look.strong(f"{'check'.ljust(width)}{'worst'.ljust(Look.SEVERITY_CELLS)}what it finds")]
    for check in checks:
        start = " " * (width + Look.SEVERITY_CELLS)
        title, *more = look.wrap(check.title, start)
        lines += [check.id.ljust(width) + look.severity(check.severity) + title[len(start) :], *more]
        lines += look.wrap(", ".join(check.fixes), f"{start}fix: ") if check.fixes else []
    return "\n".join([*lines, f"{len(checks)} checks; meshqc explain ID says more of one, or of a fix"]) + "\n"


def page_text(subject: Check | AnyFix, look: Look) -> str:
    """All that is known of one check or fix."""
    lines = _check_lines(subject, look) if isinstance(subject, Check) else _fix_lines(subject, look)
    return "\n".join(lines) + "\n"


def _check_lines(check: Check, look: Look) -> Iterator[str]:
    yield look.strong(f"{check.id}: {check.title}")
    yield f"a check; the worst that it gives: {look.severity(check.severity).strip()}"
    yield from _part("What it is", [check.rationale.what], look)
    yield from _part("After the import", [check.rationale.after_import], look)
    yield from _part("What to do", [check.rationale.what_to_do], look)
    fixes = [fix_by_id(name) for name in check.fixes]
    yield from _items("Fixes", [(f"{fix.id} ({fix.kind.value})", fix.does) for fix in fixes], look)
    limits = [(threshold_text(threshold), threshold.why) for threshold in check.values]
    yield from _items("Thresholds", limits, look)
    names = ", ".join(check.settable_names)
    yield from _part("Thresholds that delivery rules can set", [names] if names else [], look)


def _fix_lines(fix: AnyFix, look: Look) -> Iterator[str]:
    yield look.strong(f"{fix.id}: {fix.title}")
    yield from look.wrap(f"{fix.kind_text}: {_KINDS[fix.kind]}", "a fix, ", "  ")
    yield from _part("What it does", [fix.does], look)
    yield from _part("What is lost or made up", [fix.cost] if fix.cost else [], look)
    yield from _items("What you can give it", list(fix.parameters.items()), look)
    answers = [f"{check.id} ({check.severity.word}): {check.title}" for check in answered_by(fix)]
    yield from _part("Answers", answers or ["no finding by itself; it is made where you name it"], look)


def answered_by(fix: AnyFix) -> list[Check]:
    """The checks whose findings the fix can answer."""
    return [check for check in all_checks() if fix.id in check.fixes]


def _part(heading: str, texts: Sequence[str], look: Look) -> Iterator[str]:
    """A heading and its texts below it; nothing where there are none."""
    if texts:
        yield from ("", look.strong(heading))
    for text in texts:
        yield from look.wrap(text, "  ")


def _items(heading: str, items: Sequence[tuple[str, str]], look: Look) -> Iterator[str]:
    """A heading and named texts below it; nothing where there are none."""
    if items:
        yield from ("", look.strong(heading))
    for name, text in items:
        yield from look.wrap(name, "  ")
        yield from look.wrap(text, "      ")
