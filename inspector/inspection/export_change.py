"""Compare an export with the previous export: which frames changed, and which findings are new, gone or still there."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Set
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.finding import Finding, Severity
from inspector.errors import MeshqcError
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name
from inspector.safe_open import read_place
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.frame_difference import Difference, differences
from inspector.sequence.run.scan import load_file

Progress = Callable[[str], None]
"""A function that is called with a description of what is being compared."""


@dataclass(frozen=True, slots=True)
class FrameChange:
    """A frame that both exports have, but whose two files differ or can't be compared.

    Attributes:
        number: The frame number.
        blocks: The differences, block by block; empty if the files differ only in their text or can't be compared.
        unreadable: The reason why the two files can't be compared; "" if they can.
    """

    number: Fraction
    blocks: tuple[Difference, ...] = ()
    unreadable: str = ""


@dataclass(frozen=True)
class SequenceChange:
    """The changes of one sequence between two exports.

    If only one export has the sequence, no frames are listed. For an added sequence, `new` contains all findings.

    Attributes:
        before: The sequence in the previous export; None if it is new.
        after: The sequence in this export; None if it is missing.
        added: Frame numbers that only this export has.
        missing: Frame numbers that only the previous export has.
        changed: Frames of both exports whose files differ.
        alike: The number of frames with the same bytes in both exports.
        materials: The changes of materials and textures, in plain words.
        new: Findings that the previous export did not have on the same frames, or had with a lower severity.
        gone: Findings that only the previous export has.
        still: Findings that both exports have.
    """

    before: Inspection | None
    after: Inspection | None
    added: tuple[Fraction, ...] = ()
    missing: tuple[Fraction, ...] = ()
    changed: tuple[FrameChange, ...] = ()
    alike: int = 0
    materials: tuple[str, ...] = ()
    new: tuple[Finding, ...] = ()
    gone: tuple[Finding, ...] = ()
    still: tuple[Finding, ...] = ()

    @property
    def key(self) -> str:
        """Folder and pattern of the sequence in this export or, if it is missing there, in the previous export."""
        one = self.after or self.before
        return "" if one is None else one.sequence.key

    @property
    def worse(self) -> bool:
        """Whether the sequence or one of its frames is missing, or there is a new error or warning."""
        return self.after is None or bool(self.missing) or any(one.severity > Severity.NOTE for one in self.new)


def export_changes(
    before: FolderInspection, after: FolderInspection, progress: Progress = lambda _: None
) -> tuple[SequenceChange, ...]:
    """Compare two exports of a folder, sequence by sequence.

    If each export has only one sequence, these two sequences are compared even if their names differ. Otherwise,
    sequences are matched by folder and pattern.

    Args:
        before: The previous export.
        after: The export to judge.
        progress: Called for each frame that both exports have, with a description of what is being compared.
    """
    ours = {one.sequence.key: one for one in after.inspections}
    theirs = {one.sequence.key: one for one in before.inspections}
    if len(ours) == len(theirs) == 1:
        (mine,), (other,) = ours.values(), theirs.values()
        return (_sequence_change(other, mine, progress),)
    changes = []
    for key in dict.fromkeys((*ours, *theirs)):
        here, there = ours.get(key), theirs.get(key)
        if here is not None and there is not None:
            changes.append(_sequence_change(there, here, progress))
        else:
            changes.append(SequenceChange(there, here, new=() if here is None else here.findings))
    return tuple(changes)


def _sequence_change(before: Inspection, after: Inspection, progress: Progress) -> SequenceChange:
    theirs = {facts.number: facts.file for facts in before.series.facts}
    ours = {facts.number: facts.file for facts in after.series.facts}
    changed = []
    both = [number for number in ours if number in theirs]
    for number in both:
        progress(f"comparing frame {frame_text(number)}")
        try:
            if read_place(ours[number].place) != read_place(theirs[number].place):
                found = differences(load_file(ours[number]), load_file(theirs[number]))
                changed.append(FrameChange(number, tuple(one for one in found if not one.same)))
        except MeshqcError as error:
            changed.append(FrameChange(number, unreadable=str(error)))
        except OSError as error:
            changed.append(FrameChange(number, unreadable=error.strerror or str(error)))
    new: list[Finding] = []
    still: list[Finding] = []
    for finding in after.findings:
        (new if _is_new(finding, before, ours.keys() - theirs.keys()) else still).append(finding)
    causes = {finding.cause for finding in after.findings}
    return SequenceChange(
        before,
        after,
        tuple(sorted(ours.keys() - theirs.keys())),
        tuple(sorted(theirs.keys() - ours.keys())),
        tuple(changed),
        len(both) - len(changed),
        tuple(_materials(before, after)),
        tuple(new),
        tuple(finding for finding in before.findings if finding.cause not in causes),
        tuple(still),
    )


def _is_new(finding: Finding, before: Inspection, added: Set[Fraction]) -> bool:
    """Whether a finding is new, or more severe than before, on at least one frame that both exports have.

    A finding about the whole sequence, or only about added frames, is new if the previous export doesn't have it at
    all, or has it only with a lower severity.
    """
    known = [one for one in before.findings if one.cause == finding.cause and one.severity >= finding.severity]
    frames = {number for one in known for number in one.frames}
    return not known or not set(finding.frames) - added <= frames


def _materials(before: Inspection, after: Inspection) -> Iterator[str]:
    ours, theirs = _described(after), _described(before)
    for name in dict.fromkeys((*ours, *theirs)):
        mine, other = ours.get(name), theirs.get(name)
        if other is None:
            yield f"material `{name}` was added"
        elif mine is None:
            yield f"material `{name}` is missing"
        elif mine != other:
            yield f"material `{name}` has a different definition"
    ours_maps, theirs_maps = _maps(after), _maps(before)
    for slot in dict.fromkeys((*ours_maps, *theirs_maps)):
        words = f"{slot[1]} of material `{slot[0]}`"
        here, there = ours_maps.get(slot), theirs_maps.get(slot)
        if slot[0] not in ours or slot[0] not in theirs or here == there:
            continue
        if here is None or there is None:
            yield f"{words} {'is missing' if here is None else 'was added'}"
        elif here[0] != there[0]:
            yield f"{words} refers to `{here[0]}` instead of `{there[0]}`"
        else:
            yield f"{words}: the texture `{here[0]}` has different content"


def _described(one: Inspection) -> Mapping[Name, bytes | None]:
    """Return the normalised definition of each material in use, by name; None if no library defines the material."""
    found: dict[Name, bytes | None] = {}
    for index, facts in enumerate(one.series.facts):
        uses = one.context.materials(index).libraries
        for name in facts.materials:
            if found.get(name) is None:
                bodies = (use.library.bodies.get(name) for use in uses if use.library is not None)
                found[name] = next((body for body in bodies if body is not None), None)
    return found


def _maps(one: Inspection) -> Mapping[tuple[Name, Name], tuple[Name, str]]:
    """Return the name of each map's texture as written, and the SHA-256 of the texture, by material and statement.

    The SHA-256 is "" if the texture was not found or can't be read.
    """
    found: dict[tuple[Name, Name], tuple[Name, str]] = {}
    for index in range(len(one.series.facts)):
        for use in one.context.materials(index).maps:
            slot = use.map.material, use.map.statement
            if slot not in found:
                found[slot] = use.map.name, _digest(one, use.target.path)
    return found


def _digest(one: Inspection, path: Path | None) -> str:
    try:
        return "" if path is None else hashlib.sha256(one.context.resolver.scope.read(path)).hexdigest()
    except OSError:
        return ""
