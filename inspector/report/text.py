"""Describe sequences, findings and the verdict as text."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import check_by_id
from inspector.checks.base.runner import by_reason
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name, counted, safe
from inspector.report.text_style import TextStyle
from inspector.rules.model import Rules
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.frame_ranges import frames_words
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts

if TYPE_CHECKING:
    from inspector.inspection.arrivals import Arrival

_INDENT = "    "
_REASONS_NAMED = 3


def verdict_text(result: FolderInspection) -> str:
    """State the verdict: `2 errors, 1 warning, 4 notes`, `clean (...)`, or that no sequence was found.

    If missing UVs are reported as a note, the verdict adds that no texture can be shown.
    """
    if not result.inspections:
        return "no sequence of numbered mesh files here"
    counts = ", ".join(counted(result.count(severity), severity.word) for severity in reversed(Severity))
    bare = any(
        finding.check == "no-uvs" and finding.severity is Severity.NOTE
        for inspection in result.inspections
        for finding in inspection.findings
    )
    more = "; without UVs, no texture can be shown" if bare else ""
    return (counts if result.count(Severity.ERROR) or result.count(Severity.WARNING) else f"clean ({counts})") + more


def sequence_title(sequence: FrameSequence) -> str:
    """Return the pattern of a sequence, with its folder unless the folder is the inspected folder."""
    return below(sequence.relative, sequence.pattern)


def sequence_lines(one: Inspection, style: TextStyle) -> Iterator[str]:
    """Describe one sequence: its facts, its findings, and the checks that were skipped or failed."""
    yield style.strong(f"{sequence_title(one.sequence)}  {sequence_range(one.sequence)}")
    yield from style.wrap(facts_text(one), "  ")
    advised: set[str] = set()
    for finding in one.findings:
        yield from finding_lines(finding, one, style, with_advice=finding.check not in advised)
        advised.add(finding.check)
    yield from _unchecked(one, style)


def finding_lines(finding: Finding, one: Inspection, style: TextStyle, with_advice: bool = True) -> Iterator[str]:
    """Describe one finding: check, frames, message and first location. For errors and warnings, also give advice, the
    reason in the delivery rules, and the fixes.

    Args:
        finding: The finding.
        one: The inspection of its sequence.
        style: The layout of the text.
        with_advice: Whether to give advice.
    """
    first, *more = style.wrap(
        f"{finding.check}{frames_words(finding.frames, one.sequence)}", " " * TextStyle.SEVERITY_CELLS
    )
    yield style.severity(finding.severity) + first[TextStyle.SEVERITY_CELLS :]
    yield from more
    yield from style.wrap(f"{finding.message}{place_text(finding)}", _INDENT)
    if finding.severity is Severity.NOTE:
        return
    if with_advice:
        yield from style.wrap(check_by_id(finding.check).rationale.what_to_do, f"{_INDENT}do: ", f"{_INDENT}    ")
    if finding.reason:
        yield from style.wrap(finding.reason, f"{_INDENT}rule: ", f"{_INDENT}      ")
    if finding.fixes:
        yield from style.wrap(", ".join(map(_fix, finding.fixes)), f"{_INDENT}fix: ")


def place_text(finding: Finding) -> str:
    """Format the first location of a finding as ` (file:line, element)`; "" if its line number is unknown."""
    if not finding.where or finding.where[0].line is None:
        return ""
    where = finding.where[0]
    element = f", {safe(where.element)}" if where.element else ""
    return f" ({where.file}:{where.line}{element})"


def _fix(identifier: str) -> str:
    from inspector.fixes.base.fix import FixKind
    from inspector.fixes.base.registry import fix_by_id  # commands that only print titles don't need it

    kind = fix_by_id(identifier).kind
    return identifier if kind is FixKind.LOSSLESS else f"{identifier} ({kind.value})"


def sequence_range(sequence: FrameSequence) -> str:
    """Describe the range of a sequence, as in `12 files, frames 1-12`. The step is included if it isn't 1."""
    first, last = (frame_text(file.number) for file in (sequence.files[0], sequence.files[-1]))
    step = "" if sequence.step == 1 else f" in steps of {frame_text(sequence.step)}"
    return f"{counted(len(sequence.files), 'file')}, frames {first}-{last}{step}"


def facts_text(one: Inspection) -> str:
    """Describe the reference frame (frame number, counts and size), or state that no frame can be read."""
    series = one.series
    if series.reference_index is None:
        return "no frame can be read"
    base = series.reference_facts
    return f"reference frame {frame_text(base.number)}: {counts_text(base)}, {_size(base.box)}"


def counts_text(facts: FrameFacts) -> str:
    """State the counts of a frame, as in `600 vertices, 598 faces, 670 UVs`."""
    uvs = counted(facts.uvs, "UV") if facts.uvs else "no UVs"
    return f"{counted(facts.vertices, 'vertex', 'vertices')}, {counted(facts.faces, 'face')}, {uvs}"


def _size(box: tuple[float, float, float, float, float, float] | None) -> str:
    if box is None:
        return "no size"
    return "size " + " x ".join(f"{high - low:.3g}" for low, high in zip(box[:3], box[3:], strict=True))


def _unchecked(one: Inspection, style: TextStyle) -> Iterator[str]:
    """List the checks that were skipped, and the checks that failed, with the reasons."""
    if one.verdict.skipped:
        yield from style.wrap("; ".join(reasons_text(one.verdict.skipped)), "skipped:  ")
    if one.verdict.failed:
        yield from style.wrap("; ".join(reasons_text(one.verdict.failed)), "failed:   ")


def reasons_text(pairs: Iterable[tuple[str, str]], named: int = _REASONS_NAMED) -> list[str]:
    """Group checks by reason, as in `spike, loop (reason)`.

    Of a reason with several lines, such as a traceback, only the last line is shown.

    Args:
        pairs: Pairs of a check and a reason.
        named: Maximum number of items listed per reason. If there are more checks, the last item counts the rest, as in
            `and 6 more`.
    """
    short = ((check, safe(" ".join(reason.strip().splitlines()[-1:]))) for check, reason in pairs)
    return [f"{_first(checks, named)} ({reason})" for reason, checks in by_reason(short).items()]


def _first(names: Sequence[str], most: int) -> str:
    """List names, as in `a, b, c`, or as in `a, b and 6 more` if there are more than `most`."""
    if len(names) <= most:
        return ", ".join(names)
    return f"{', '.join(names[: most - 1])} and {len(names) - most + 1} more"


def below(folder: Name, name: Name) -> str:
    """Return a name, with its folder unless the folder is the inspected folder."""
    return name.display if folder.raw == b"." else f"{folder}/{name}"


_LEFT_OUT_SHOWN = 5


def rest_notes(result: FolderInspection) -> list[str]:
    """List the files and folders that were not inspected, with the reasons."""
    notes = [
        f"{below(one.folder, one.pattern)} ({counted(one.count, 'file')}): {one.reason}" for one in result.not_sequences
    ]
    paths = result.discovery.left_out
    notes += [f"{Name.from_path(path.relative_to(result.root))}: {reason}" for path, reason in paths[:_LEFT_OUT_SHOWN]]
    return [*notes, f"and {len(paths) - _LEFT_OUT_SHOWN:,} more"] if len(paths) > _LEFT_OUT_SHOWN else notes


def rules_words(rules: Rules) -> str | None:
    """State the rules file, its number of rules, and the checks that it changes; None if there is no rules file."""
    if rules.file is None:
        return None
    off = [check for check, rule in rules.checks.items() if rule.severity == "off"]
    other = len(rules.checks) - len(off)
    parts = [counted(len(rules.demands), "rule"), f"{counted(other, 'check')} adjusted" if other else ""]
    parts.append(f"switched off: {', '.join(off)}" if off else "")
    return f"{Name.from_path(rules.file)} ({'; '.join(filter(None, parts))})"


_GOOD = "."
"""Sign of a sequence without findings."""


def summary_lines(result: FolderInspection, style: TextStyle) -> Iterator[str]:
    """Summarise each sequence, the worst first, in a line such as `E error   9 errors, 4 warnings  manta.####.obj`.

    If there is only one sequence, there is no summary.
    """
    if len(result.inspections) < 2:
        return
    yield style.strong("summary, worst first")
    said = [(one, found_words(one)) for one in worst_first(result)]
    width = max(len(words) for _, words in said)
    for one, words in said:
        worst = worst_of(one)
        sign = _GOOD.ljust(TextStyle.SEVERITY_CELLS) if worst is None else style.severity(worst)
        start = " " * TextStyle.SEVERITY_CELLS + words.ljust(width) + "  "
        title, *more = style.wrap(sequence_title(one.sequence), start)
        yield sign + title[TextStyle.SEVERITY_CELLS :]
        yield from more
    yield ""


_WORST_FIRST = tuple(reversed(Severity))


def worst_first(result: FolderInspection) -> list[Inspection]:
    """Sort the sequences by number of errors, then warnings, then notes, in descending order."""
    return sorted(result.inspections, key=_counts, reverse=True)


def worst_of(one: Inspection) -> Severity | None:
    """Return the highest severity of a sequence's findings; None if it has no findings."""
    return max((finding.severity for finding in one.findings), default=None)


def _counts(one: Inspection) -> tuple[int, ...]:
    """Count the findings of each severity, errors first."""
    return tuple(sum(finding.severity is severity for finding in one.findings) for severity in _WORST_FIRST)


def found_words(one: Inspection) -> str:
    """State how many findings a sequence has, as in `9 errors, 4 warnings` or `nothing found`."""
    found = zip(_counts(one), _WORST_FIRST, strict=True)
    return ", ".join(counted(count, severity.word) for count, severity in found if count) or "nothing found"


def arrival_lines(arrival: Arrival, style: TextStyle) -> Iterator[str]:
    """Describe a frame that has arrived: one line per finding or, without findings, one line with counts."""
    name = arrival.file.display
    if not arrival.findings:
        yield style.plain(f"{'.':{TextStyle.SEVERITY_CELLS}}{name}  {counts_text(arrival.facts)}")
    for finding in arrival.findings:
        later = "" if arrival.new else "seen now: "
        said = f"{name}{_line(finding, arrival)}  {later}{finding.check}: {finding.message}"
        yield style.severity(finding.severity) + style.plain(said)


def _line(finding: Finding, arrival: Arrival) -> str:
    """Return the first line number that a finding gives for the frame's file, as in `:1882`; "" if it gives none."""
    lines = [place.line for place in finding.where if place.file == arrival.file and place.line is not None]
    return f":{lines[0]}" if lines else ""
