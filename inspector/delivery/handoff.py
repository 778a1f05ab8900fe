"""The hand-off note: plain text for the artist who receives the delivery."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction

from inspector.checks.base.finding import Finding
from inspector.delivery.choices import serious
from inspector.delivery.losses import SequenceLosses
from inspector.delivery.plan import Plan, SequencePlan, frame_path
from inspector.delivery.scene_files import Form, limits
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.mesh import LeftOut
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name, counted
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.scope import fold
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.materials.references import Status

HANDOFF_NAME = "HANDOFF.txt"


def handoff_bytes(
    plan: Plan, after: FolderInspection, lost: Sequence[SequenceLosses], form: Form | None = None
) -> bytes:
    """Return the hand-off note of a delivery, as UTF-8. Unsafe characters in names are escaped.

    Args:
        plan: The plan that was carried out.
        after: The inspection of the delivered OBJ frames.
        lost: Content of the source that is missing from the delivery.
        form: The format to which the OBJ frames were converted; None for OBJ.
    """
    lines = ["Hand-off note", "", f"Corrected copy of {Name.from_path(plan.inspection.root.name)}.", ""]
    if form is not None:
        lines += [f"Written as {form.format.title}, converted from the OBJ frames described here.", *_limits(form), ""]
    lines += _rate(after)
    for one in after.inspections:
        lines += ["", *_sequence(one)]
    for part in plan.sequences:
        lines += ["", f"What was done to {part.inspection.sequence.pattern}:", *_steps(part)]
    lines += [*_lost(lost), *_alike(plan), "", *_not_taken(plan), "", "Check the copy: sha256sum -c SHA256SUMS"]
    return ("\n".join(lines) + "\n").encode("utf-8", "backslashreplace")


def unpacked_note_bytes(
    source: Name, about: Sequence[str], left_out: Mapping[LeftOut, Sequence[Fraction]], after: FolderInspection
) -> bytes:
    """Return the hand-off note of frames that were unpacked from a scene file, as UTF-8.

    Args:
        source: Name of the scene file.
        about: Lines that describe the content of the scene file.
        left_out: For each kind of content that was left out, the numbers of the frames that were written without it.
        after: The inspection of the frames.
    """
    lines = ["Hand-off note", "", f"OBJ frames from {source}.", "", *about, *left_out_lines(left_out), *_rate(after)]
    for one in after.inspections:
        lines += ["", *_sequence(one)]
    lines += ["", "Check the copy: sha256sum -c SHA256SUMS"]
    return ("\n".join(lines) + "\n").encode("utf-8", "backslashreplace")


def left_out_lines(left_out: Mapping[LeftOut, Sequence[Fraction]]) -> Iterator[str]:
    """Yield a line for each kind of content that was left out: a warning if the picture changes, otherwise a note."""
    for one, numbers in left_out.items():
        yield f"{'warning' if one.seen else 'note'}: left out of {numbers_text(numbers)}: {one.what}"


def _rate(after: FolderInspection) -> Iterator[str]:
    rate = after.settings.rate
    yield f"Frame rate: {frame_text(rate)} fps, as stated." if rate else "Frame rate: not stated."


def _limits(form: Form) -> Iterator[str]:
    text = limits(form)
    if text:
        yield f"In this format: {text}."


def _lost(lost: Sequence[SequenceLosses]) -> Iterator[str]:
    """Yield the lines about content of the source that is missing from the delivery."""
    for one in lost:
        yield ""
        yield f"Not carried over from {one.sequence}:"
        yield from (f"  {line}" for line in one.lines())


def _sequence(one: Inspection) -> Iterator[str]:
    sequence, series = one.sequence, one.series
    title = f"Sequence {sequence.pattern} in {sequence.relative}"
    yield title
    yield "-" * len(title)
    first, last = sequence.files[0].number, sequence.files[-1].number
    yield f"Range: frames {frame_text(first)} to {frame_text(last)}, step {frame_text(sequence.step)}, " + (
        f"{counted(len(sequence.files), 'file')}."
    )
    if series.reference_index is not None:
        low, high = series.boxes[series.reference_index]
        size = " x ".join(f"{value:.6g}" for value in (high - low).tolist())
        number = frame_text(series.reference_facts.number)
        yield f"Size of frame {number}: {size} units along x, y, z. The format states no unit."
    yield "Up axis: the format does not state one, and none was assumed."
    yield from _materials(one)
    left = serious(one)
    notes = len(one.findings) - len(left)
    others = counted(notes, "note")
    if left:
        yield "Remaining findings:"
    else:
        yield f"Remaining findings: {f'no errors or warnings; {others}' if notes else 'none'}."
    for finding in left:
        yield f"  {_finding_line(finding)}"
    if left and notes:
        yield f"  and {others}"


def _materials(one: Inspection) -> Iterator[str]:
    lines: dict[str, None] = {}
    for index, facts in enumerate(one.series.facts):
        found = one.context.materials(index)
        for name in facts.materials:
            maps = [use for use in found.maps if use.map.material == name]
            unknown = "" if name in found.defined else ": not defined in any library that the frames refer to"
            lines[f"  {name}{unknown}"] = None
            for use in maps:
                amiss = "" if use.target.status is Status.FOUND else ": not found as written"
                lines[f"  {name}, {use.map.statement}: {use.map.name} (in {use.library}){amiss}"] = None
    yield "Materials and their maps:" if lines else "Materials: none."
    yield from lines


def _steps(part: SequencePlan) -> Iterator[str]:
    yield from _constants(part)
    if not part.steps:
        yield "  Nothing: every frame is a copy."
    for step in part.steps:
        fix = fix_by_id(step.fix)
        yield f"  {fix.title}: {step.summary}."
        if fix.kind is FixKind.CHANGES_DATA:
            yield f"    CHANGES DATA: {fix.cost}"
    made = [output for output in part.outputs if output.made is not None]
    if made:
        how = ", ".join(dict.fromkeys(output.made or "" for output in made))
        yield f"  Added frames (source numbering): {numbers_text(output.number for output in made)} ({how})."
        yield from (f"    {output.file}: {output.made}" for output in made)


def _constants(part: SequencePlan) -> Iterator[str]:
    """Yield the lines about the constant offset and the constant scale."""
    steps = {step.fix: step.parameters for step in part.steps}
    offset, scale = steps.get("offset"), steps.get("scale")
    moved = (
        "none"
        if offset is None
        else " ".join(f"{offset[axis]}" for axis in "xyz") + " (source units, before any scaling)"
    )
    yield f"  Constant offset: {moved}."
    yield f"  Constant scale: {'none' if scale is None else scale['factor']}."


def _finding_line(finding: Finding) -> str:
    frames = f"{numbers_text(finding.frames)}: " if finding.frames else ""
    return f"{finding.severity.word} {finding.check}: {frames}{finding.message}"


def _alike(plan: Plan) -> Iterator[str]:
    """Yield the lines about names that some file systems can't distinguish."""
    places = [Name(os.fsencode(frame_path(one, output))) for one in plan.sequences for output in one.outputs]
    places += [Name(os.fsencode(place)) for one in plan.sequences for place in one.assets.files()]
    groups: dict[str, dict[Name, None]] = {}
    for place in places:
        groups.setdefault(fold(place.raw), {})[place] = None
    alike = [" and ".join(map(str, names)) for names in groups.values() if len(names) > 1]
    if alike:
        yield ""
        yield (
            "Names that differ only in letter case or in the encoding of accents (a file system that ignores this "
            "difference keeps only one of the files listed on each line below):"
        )
        yield from (f"  {names}" for names in alike)


def _not_taken(plan: Plan) -> Iterator[str]:
    """Yield the lines about files of the source that are not in the delivery."""
    inspection = plan.inspection
    yield "Not copied (the source is unchanged):"
    found = [
        *(
            f"  {one.pattern} in {one.folder}: {counted(one.count, 'file')}, {one.reason}"
            for one in inspection.not_sequences
        ),
        *(
            f"  {Name.from_path(path.relative_to(inspection.root))}: {why}"
            for path, why in inspection.discovery.left_out
        ),
        *_outside(plan),
    ]
    yield from found or ["  nothing"]


def _outside(plan: Plan) -> list[str]:
    """Return the lines about references to files outside the folders that may be read. Such files are never copied."""
    named: dict[str, None] = {}
    for one in plan.inspection.inspections:
        for index in range(len(one.series.facts)):
            found = one.context.materials(index)
            names = [(use.name, use.target) for use in found.libraries] + [
                (use.map.name, use.target) for use in found.maps
            ]
            for name, target in names:
                if target.status is Status.OUTSIDE:
                    named[f"  {name}: outside the source folders, not opened"] = None
    return list(named)
