"""A sequence and its findings as text for people."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import check_by_id
from inspector.checks.base.runner import by_reason
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name, safe
from inspector.report.text_style import Look
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.frame_ranges import frames_words
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts

_INDENT = "    "
_REASONS_NAMED = 3


def verdict_text(result: FolderInspection) -> str:
    """`2 errors, 1 warning, 4 infos`, or that there is nothing to find them in."""
    if not result.inspections:
        return "no sequence of numbered mesh files here"
    counts = ", ".join(counted(result.count(severity), severity.word) for severity in reversed(Severity))
    return counts if result.count(Severity.ERROR) or result.count(Severity.WARNING) else f"clean ({counts})"


def counted(number: int, thing: str, things: str = "") -> str:
    """`1 error`, `1,200 errors`; things: the plural, where it is irregular."""
    return f"{number:,} {thing if number == 1 else things or thing + 's'}"


def sequence_title(sequence: FrameSequence) -> str:
    """Its pattern, behind its folder where that isn't the inspected one."""
    return below(sequence.relative, sequence.pattern)


def sequence_lines(one: Inspection, look: Look) -> Iterator[str]:
    """Facts and findings of one sequence."""
    yield look.strong(f"{sequence_title(one.sequence)}  {sequence_range(one.sequence)}")
    yield from look.wrap(facts_text(one), "  ")
    told: set[str] = set()
    for finding in one.findings:
        yield from finding_lines(finding, one, look, with_advice=finding.check not in told)
        told.add(finding.check)
    yield from _unchecked(one, look)


def finding_lines(finding: Finding, one: Inspection, look: Look, with_advice: bool = True) -> Iterator[str]:
    """One finding: its frames, what it is, where first, and, for more than a fact, what to do about it."""
    first, *more = look.wrap(f"{finding.check}{frames_words(finding.frames, one.sequence)}", " " * Look.SEVERITY_CELLS)
    yield look.severity(finding.severity) + first[Look.SEVERITY_CELLS :]
    yield from more
    yield from look.wrap(f"{finding.message}{place_text(finding)}", _INDENT)
    if finding.severity is Severity.NOTE:
        return
    if with_advice:
        yield from look.wrap(check_by_id(finding.check).rationale.what_to_do, f"{_INDENT}do: ", f"{_INDENT}    ")
    if finding.reason:
        yield from look.wrap(finding.reason, f"{_INDENT}rule: ", f"{_INDENT}      ")
    if finding.fixes:
        yield from look.wrap(", ".join(map(_fix, finding.fixes)), f"{_INDENT}fix: ")


def place_text(finding: Finding) -> str:
    """` (file:line, element)`: where it is first; nothing where it has no line."""
    if not finding.where or finding.where[0].line is None:
        return ""
    where = finding.where[0]
    element = f", {safe(where.element)}" if where.element else ""
    return f" ({where.file}:{where.line}{element})"


def _fix(identifier: str) -> str:
    kind = fix_by_id(identifier).kind
    return identifier if kind is FixKind.LOSSLESS else f"{identifier} ({kind.value})"


def sequence_range(sequence: FrameSequence) -> str:
    """`12 files, frames 1-12`, and their step where it isn't 1."""
    first, last = (frame_text(file.number) for file in (sequence.files[0], sequence.files[-1]))
    step = "" if sequence.step == 1 else f" in steps of {frame_text(sequence.step)}"
    return f"{counted(len(sequence.files), 'file')}, frames {first}-{last}{step}"


def facts_text(one: Inspection) -> str:
    """The reference frame and what is in it."""
    series = one.series
    if series.reference_index is None:
        return "no frame can be read"
    base = series.reference_facts
    return f"reference frame {frame_text(base.number)}: {counts_text(base)}, {_size(base.box)}"


def counts_text(facts: FrameFacts) -> str:
    """`600 vertices, 598 faces, 670 UVs`."""
    uvs = counted(facts.uvs, "UV") if facts.uvs else "no UVs"
    return f"{counted(facts.vertices, 'vertex').replace('vertexs', 'vertices')}, {counted(facts.faces, 'face')}, {uvs}"


def _size(box: tuple[float, float, float, float, float, float] | None) -> str:
    if box is None:
        return "no size"
    return "size " + " x ".join(f"{high - low:.3g}" for low, high in zip(box[:3], box[3:], strict=True))


def _unchecked(one: Inspection, look: Look) -> Iterator[str]:
    """Checks that had nothing to look at, and those that broke: nothing is silent."""
    if one.verdict.skipped:
        yield from look.wrap("; ".join(reasons_text(one.verdict.skipped)), "skipped:  ")
    if one.verdict.failed:
        yield from look.wrap("; ".join(reasons_text(one.verdict.failed)), "failed:   ")


def reasons_text(pairs: Iterable[tuple[str, str]], named: int = _REASONS_NAMED) -> list[str]:
    """`check, check (reason)` for each reason, of more checks than `named` the first ones; of a traceback its last
    line."""
    short = ((check, safe(" ".join(reason.strip().splitlines()[-1:]))) for check, reason in pairs)
    return [f"{_first(checks, named)} ({reason})" for reason, checks in by_reason(short).items()]


def _first(names: Sequence[str], most: int) -> str:
    """`a, b, c`; `a, b and 6 more`."""
    if len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[: most - 1])} and {len(names) - most + 1} more"


def below(folder: Name, name: Name) -> str:
    """The name, behind its folder where that isn't the inspected one."""
    return name.display if folder.raw == b"." else f"{folder}/{name}"
