"""Fixes chosen by the user, and fixes chosen because they can correct findings."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction

import numpy as np

from inspector.checks.base.finding import Finding, Severity
from inspector.errors import Answer, Refusal
from inspector.fixes.base.assets import is_misplaced
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection, Inspection


@dataclass(frozen=True)
class Choice:
    """The choice of a fix for a sequence or a folder.

    Attributes:
        fix: Id of the fix.
        parameters: Parameters of the fix. Missing parameters have their default values.
        sequence: Key of one sequence (see `sequence_key`); None to let `drafting.for_this_folder` choose the sequences.
        frames: Frame numbers in the source. None for the frames of the findings that name the fix or, if there are
            none, for all frames to which it can be applied.
        asked: Whether the user chose the fix by name. If such a fix can't be applied, no plan is made. Any other fix
            that can't be applied is left out, and the plan records the refusal.
    """

    fix: str
    parameters: Mapping[str, object] = field(default_factory=dict)
    sequence: str | None = None
    frames: tuple[Fraction, ...] | None = None
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Refused:
    """A fix that a plan leaves out for some or all frames, for example because the fix would have to guess.

    Attributes:
        fix: Id of the fix.
        frames: Frame numbers in the source; empty for all frames.
        reason: The reason, in plain words.
        answers: Options that resolve the refusal, as in `Refusal`.
    """

    fix: str
    frames: tuple[Fraction, ...]
    reason: str
    answers: tuple[Answer, ...] = ()

    @classmethod
    def of(cls, fix: str, frames: tuple[Fraction, ...], refusal: Refusal) -> Refused:
        """Record a refusal of a fix for these frames. If `frames` is empty, the fix is refused for all frames."""
        return cls(fix, frames, str(refusal), refusal.answers)


def sequence_key(inspection: Inspection) -> str:
    """Return the key that identifies the inspected sequence in its folder."""
    return inspection.sequence.key


def lossless_choices(inspection: FolderInspection) -> tuple[Choice, ...]:
    """Return the choices from `all_choices` whose fixes are lossless."""
    return tuple(choice for choice in all_choices(inspection) if fix_by_id(choice.fix).kind is FixKind.LOSSLESS)


def all_choices(inspection: FolderInspection) -> tuple[Choice, ...]:
    """Choose every fix that an error or a warning names, with default parameters.

    The fix that copies textures is also chosen if textures are outside their sequence's folder, because the corrected
    folder would otherwise be incomplete.
    """
    return tuple(
        Choice(fix, sequence=sequence_key(one), asked=False)
        for one in inspection.inspections
        for fix in dict.fromkeys(_fixes(one))
    )


NORMAL_UP, _NORMAL_START, _NORMAL_PADDING = "y", 1, 4
"""Up axis, first frame number and padding of a normalised sequence."""


def normalising_choices(inspection: FolderInspection, up: str) -> tuple[Choice, ...]:
    """Choose fixes that give every sequence the same position, up axis and frame numbering.

    The centre of the reference frame moves to the origin, the axis NORMAL_UP points up, and frame numbers start at 1
    and have four digits. If the user stated a size, the longest side of the reference frame's bounding box gets this
    length.

    Args:
        inspection: The inspection of the folder.
        up: The axis that points up in the source, `y` or `z`.
    """
    choices = []
    for one in inspection.inspections:
        key, size = sequence_key(one), inspection.settings.size
        if not _is_central(one):
            choices.append(Choice("offset", {"to": "origin"}, key, asked=False))
        if size is not None:
            choices.append(Choice("scale", {"size": size}, key, asked=False))
        if up != NORMAL_UP:
            choices.append(Choice("up-axis", {"to": NORMAL_UP}, key, asked=False))
        numbering = {"start": _NORMAL_START, "padding": _NORMAL_PADDING}
        choices.append(Choice("renumber", numbering, key, asked=False))
    return tuple(choices)


def _is_central(one: Inspection) -> bool:
    """Whether the centre of the reference frame is at the origin. False if there is no reference frame.

    The centre may be off by up to one unit of the file's last decimal place on each axis, because scaling rounds
    coordinates.
    """
    series = one.series
    if series.reference_index is None:
        return False
    last = 10.0**-series.reference_facts.decimals
    return bool((np.abs(series.centres[series.reference_index]) < 1.5 * last).all())


def serious(inspection: Inspection) -> tuple[Finding, ...]:
    return tuple(finding for finding in inspection.findings if finding.severity >= Severity.WARNING)


def _fixes(one: Inspection) -> Iterator[str]:
    for finding in serious(one):
        yield from finding.fixes
    facts = one.series.facts
    if any(is_misplaced(use.target, one.context) for i in range(len(facts)) for use in one.context.materials(i).maps):
        yield "collect-textures"
