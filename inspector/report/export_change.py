"""Describe how an export differs from the previous export, as text and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import groupby

from inspector.checks.base.finding import Finding, Severity
from inspector.inspection.export_change import FrameChange, SequenceChange
from inspector.inspection.inspection import Inspection
from inspector.names import counted
from inspector.report.difference_words import difference_text
from inspector.report.document import Json, finding_json, finite, head
from inspector.report.text import sequence_title
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.frame_ranges import frames_words, numbers_text
from inspector.sequence.discovery.settings import frame_json
from inspector.sequence.frame_difference import LIBRARIES, Difference


def export_text(changes: Sequence[SequenceChange], style: TextStyle) -> str:
    """Describe what changed in each sequence since the previous export, and state the verdict."""
    lines: list[str] = []
    for one in changes:
        lines += [*_sequence(one, style), ""]
    worse = [one for one in changes if one.worse]
    new = sum(finding.severity > Severity.NOTE for one in changes for finding in one.new)
    gone = sum(finding.severity > Severity.NOTE for one in changes for finding in one.gone)
    words = f"{counted(new, 'new error or warning', 'new errors and warnings')}, {gone:,} gone"
    words += "".join(f"; {setback}" for setback in _setbacks(changes))
    verdict = f"{'worse' if worse else 'no worse'} than the previous export ({words})"
    return "\n".join([*lines, *style.wrap(verdict, "verdict: ", "  "), ""])


def _setbacks(changes: Sequence[SequenceChange]) -> Iterator[str]:
    """Describe what is missing or worse. The missing frames are listed if they all belong to the same sequence;
    otherwise, they are counted."""
    sequences = sum(one.after is None for one in changes)
    if sequences:
        yield f"{counted(sequences, 'sequence')} missing"
    frames = [one.missing for one in changes if one.missing]
    if len(frames) == 1:
        yield f"{numbers_text(frames[0])} missing"
    elif frames:
        yield f"{counted(sum(map(len, frames)), 'frame')} of {counted(len(frames), 'sequence')} missing"
    others = sum(len(one.regressions) for one in changes)
    if others:
        yield counted(others, "other change for the worse", "other changes for the worse")


def export_document(changes: Sequence[SequenceChange]) -> Json:
    return {
        **head(),
        "worse": any(one.worse for one in changes),
        "sequences": [
            {
                "sequence": one.key,
                "state": "added" if one.before is None else "missing" if one.after is None else "both",
                "worse": one.worse,
                "added": [frame_json(number) for number in one.added],
                "missing": [frame_json(number) for number in one.missing],
                "changed": [_frame_json(frame) for frame in one.changed],
                "alike": one.alike,
                "materials": list(one.materials),
                "regressions": list(one.regressions),
                "new": [finding_json(finding) for finding in one.new],
                "gone": [finding_json(finding) for finding in one.gone],
                "still": [finding_json(finding) for finding in one.still],
            }
            for one in changes
        ],
    }


def _frame_json(frame: FrameChange) -> Json:
    return {
        "frame": frame_json(frame.number),
        "unreadable": frame.unreadable or None,
        "blocks": [
            {
                "block": block.block,
                "before": block.counts[1],
                "after": block.counts[0],
                "differing": block.differing,
                "mean": finite(block.mean),
                "largest": finite(block.most),
                "unit": block.unit,
            }
            for block in frame.blocks
        ],
    }


def _sequence(one: SequenceChange, style: TextStyle) -> Iterator[str]:
    shown = one.after or one.before
    assert shown is not None
    yield style.strong(sequence_title(shown.sequence))
    if one.before is None or one.after is None:
        yield f"  the sequence {'was added' if one.before is None else 'is missing'}"
    for word, numbers in (("added", one.added), ("missing", one.missing)):
        if numbers:
            yield from style.wrap(f"{word}: {numbers_text(numbers)}", "  ")
    if one.alike:
        yield f"  unchanged: {counted(one.alike, 'frame')}"
    yield from _library_names(one, style)
    others = (
        replace(frame, blocks=tuple(block for block in frame.blocks if block.block != LIBRARIES))
        for frame in one.changed
        if not _only_libraries(frame)
    )
    for title, group in groupby(others, _kind):
        frames = list(group)
        yield from style.wrap(f"changed: {numbers_text(frame.number for frame in frames)}: {title}", "  ")
        for block in _farthest(frames):
            yield from style.wrap(f"{block.block}: {difference_text(block)}", "    ", "      ")
    for words in one.materials:
        yield from style.wrap(words, "  ")
    for words in one.regressions:
        yield from style.wrap(f"worse: {words}", "  ", "    ")
    for word, findings, inspection in (
        ("new", one.new, one.after),
        ("gone", one.gone, one.before),
        ("still there", one.still, one.after),
    ):
        for finding in findings:
            if finding.severity > Severity.NOTE and inspection is not None:
                yield from style.wrap(f"{word}: {_finding(finding, inspection)}", "  ", "    ")


def _library_names(one: SequenceChange, style: TextStyle) -> Iterator[str]:
    """Describe the frames in which the names of libraries changed. Other data may also have changed."""
    numbers = [frame.number for frame in one.changed if any(block.block == LIBRARIES for block in frame.blocks)]
    if not numbers or one.before is None or one.after is None:
        return
    ours, theirs = (
        {facts.number: ", ".join(f"`{line.name}`" for line in facts.libraries) or "none" for facts in side.series.facts}
        for side in (one.after, one.before)
    )
    pairs = list(dict.fromkeys((ours[number], theirs[number]) for number in numbers))
    words = f"{pairs[0][0]} instead of {pairs[0][1]}" + (", among others" if len(pairs) > 1 else "")
    yield from style.wrap(f"changed: {numbers_text(numbers)}: {LIBRARIES}: {words}", "  ")


def _only_libraries(frame: FrameChange) -> bool:
    return bool(frame.blocks) and all(block.block == LIBRARIES for block in frame.blocks)


def _kind(frame: FrameChange) -> str:
    if frame.unreadable:
        return frame.unreadable
    return ", ".join(block.block for block in frame.blocks) or "only the text of the files"


def _farthest(frames: Sequence[FrameChange]) -> Iterator[Difference]:
    """For each block, yield the largest difference over the frames."""
    for same in zip(*(frame.blocks for frame in frames), strict=True):
        yield max(same, key=lambda block: (block.most or 0.0, block.differing))


def _finding(finding: Finding, one: Inspection) -> str:
    return f"{finding.severity.word} {finding.check}{frames_words(finding.frames, one.sequence)}: {finding.message}"
