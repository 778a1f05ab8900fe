"""Compare an export with the previous export: the frames that changed, and the findings that are new, gone or still
there.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping, Set
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from statistics import median

from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.sizes import SAME_FACTOR, unit_factor, units_of
from inspector.checks.base.stillness import still_runs
from inspector.errors import MeshqcError
from inspector.inspection.inspection import FolderInspection, Inspection
from inspector.names import Name
from inspector.safe_open import read_place
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.frame_difference import Difference, differences
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.scan import load_file
from inspector.sequence.series import Series
from inspector.threshold import Threshold

MOVED = Threshold(
    "moved",
    1 / 4000,
    "A frame of the previous export counts as moving if its vertices have moved by at least this distance, on average, "
    "since the frame before it. Smaller movements can't be seen, because they are below one pixel if the object fills "
    "a picture 4,000 pixels wide (common practice, no source).",
    "of the longest side of the reference frame",
)

Progress = Callable[[str], None]
"""A function that is called with a description of what is being compared."""


@dataclass(frozen=True, slots=True)
class FrameChange:
    """A frame that is in both exports. Its two files differ, or they can't be compared.

    Attributes:
        number: The frame number.
        blocks: The differences, block by block; empty if only the texts differ, or if the files can't be compared.
        unreadable: The reason why the files can't be compared; "" if they can.
    """

    number: Fraction
    blocks: tuple[Difference, ...] = ()
    unreadable: str = ""


@dataclass(frozen=True)
class SequenceChange:
    """The changes in one sequence between two exports. If only one export has the sequence, no frames are listed.

    Attributes:
        before: The sequence in the previous export; None if it is new.
        after: The sequence in this export; None if it is missing.
        added: Frame numbers that only this export has.
        missing: Frame numbers that only the previous export has.
        changed: Frames of both exports whose files differ.
        alike: The number of frames with the same bytes in both exports.
        materials: The changes to materials and textures, in plain words.
        regressions: Descriptions of changes for the worse, such as missing maps or motion that ends early. No check can
            see these changes in one export alone.
        new: Findings that the previous export did not have on the same frames, or had with a lower severity; for an
            added sequence, all findings.
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
    regressions: tuple[str, ...] = ()
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
        """Whether the sequence or a frame is missing, or there is a regression or a new error or warning."""
        lost = self.after is None or self.missing or self.regressions
        return bool(lost) or any(one.severity > Severity.NOTE for one in self.new)


def export_changes(
    before: FolderInspection, after: FolderInspection, progress: Progress = lambda _: None
) -> tuple[SequenceChange, ...]:
    """Compare two exports of a folder, sequence by sequence.

    Sequences are matched by folder and pattern. If each export has only one sequence, these two are compared even if
    their names differ.

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
    lost_materials, materials = _materials(before, after)
    return SequenceChange(
        before,
        after,
        tuple(sorted(ours.keys() - theirs.keys())),
        tuple(sorted(theirs.keys() - ours.keys())),
        tuple(changed),
        len(both) - len(changed),
        tuple(materials),
        (*lost_materials, *_regressions(before, after)),
        tuple(new),
        tuple(finding for finding in before.findings if finding.cause not in causes),
        tuple(still),
    )


def _is_new(finding: Finding, before: Inspection, added: Set[Fraction]) -> bool:
    """Return whether a finding is new, or more severe than before, on at least one frame that both exports have.

    A finding about the whole sequence, or only about added frames, is new if the previous export doesn't have it, or
    has it only with a lower severity.
    """
    known = [one for one in before.findings if one.cause == finding.cause and one.severity >= finding.severity]
    frames = {number for one in known for number in one.frames}
    return not known or not set(finding.frames) - added <= frames


def _materials(before: Inspection, after: Inspection) -> tuple[list[str], list[str]]:
    """Compare the materials in use. Return the missing materials and maps, and all other changes."""
    ours, theirs = _described(after), _described(before)
    missing, changed = [], []
    for name in dict.fromkeys((*ours, *theirs)):
        mine, other = ours.get(name), theirs.get(name)  # None also stands for a material that no library defines
        if mine == other:
            continue
        if mine is None:
            missing.append(f"material `{name}` is missing")
        else:
            changed.append(f"material `{name}` {'was added' if other is None else 'has a different definition'}")
    ours_maps, theirs_maps = _maps(after), _maps(before)
    for slot in dict.fromkeys((*ours_maps, *theirs_maps)):
        words = f"{slot[1]} of material `{slot[0]}`"
        here, there = ours_maps.get(slot), theirs_maps.get(slot)
        if slot[0] not in ours or slot[0] not in theirs or here == there:
            continue
        if here is None:
            missing.append(f"{words} is missing")
        elif there is None:
            changed.append(f"{words} was added")
        elif here[0] != there[0]:
            changed.append(f"{words} refers to `{here[0]}` instead of `{there[0]}`")
        else:
            changed.append(f"{words}: the texture `{here[0]}` has different content")
    return missing, changed


def _regressions(before: Inspection, after: Inspection) -> Iterator[str]:
    """Describe the regressions that do not concern materials."""
    ours, theirs = ({facts.number: facts for facts in side.series.facts if facts.filled} for side in (after, before))
    both = [number for number in ours if number in theirs]
    for noun, has in _CONTENT.items():
        lost = [number for number in both if has(theirs[number]) and not has(ours[number])]
        if lost:
            yield f"{noun} are missing on {numbers_text(lost)}; the previous export has them"
    stopped = _stopped(before.series, after.series)
    if stopped:
        yield (
            f"the object doesn't move on {numbers_text(stopped)}, at the end of the sequence; in the previous export, "
            "it moves there"
        )
    factor = _unit_change(before, after)
    if factor is not None:
        yield f"the object is {factor:g} times as large as before, which is the factor between {units_of(factor)}"


_CONTENT: Mapping[str, Callable[[FrameFacts], object]] = {
    "normals": lambda facts: facts.faces_without_normals < facts.faces,
    "vertex colours": lambda facts: facts.colours,
}
"""For each kind of content that a sequence may have, a function that returns whether a frame has it. The keys are nouns
for messages. UVs are not included, because the check `no-uvs` judges them."""


def _stopped(before: Series, after: Series) -> list[Fraction]:
    """Return the frame numbers at the end of this export at which the object does not move, although it moves in the
    previous export.

    The check `frozen` judges repeated poses only in the middle of a sequence.
    """
    runs = [run for run in still_runs(after) if run[1] == len(after.facts)]
    if not runs or before.reference_index is None:
        return []
    still = [facts.number for facts in after.facts[slice(*runs[0])]]
    least = MOVED.value * before.reference_size
    moving = {facts.number for facts in before.facts if facts.step is not None and facts.step >= least > 0}
    return [number for number in still if number in moving]


def _unit_change(before: Inspection, after: Inspection) -> float | None:
    """Return the factor between two units that is closest to the ratio of the object's new size to its old size.

    None if no factor is close enough. None is also returned if the user states a size, because the check
    `scale-suspect` then compares each export with that size.
    """
    if after.context.settings.size is not None:
        return None
    ours, theirs = (
        {facts.number: size for facts, size in zip(side.series.facts, side.series.diagonals, strict=True) if size > 0}
        for side in (after, before)
    )
    ratios = [size / theirs[number] for number, size in ours.items() if number in theirs]
    return unit_factor(float(median(ratios)), SAME_FACTOR.value) if ratios else None


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
