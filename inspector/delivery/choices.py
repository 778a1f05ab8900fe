"""The fixes that a user chose, and the fixes that can correct findings."""

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
    """A fix that the user wants.

    Attributes:
        fix: Id of the fix.
        parameters: Its parameters; parameters that are not given have their defaults.
        sequence: Key of one sequence (see sequence_key); None for all sequences, or for those that need the fix
            (`drafting.for_this_folder`).
        frames: Frame numbers in the source; None for the frames of the findings that name the fix or, if no finding
            does, for all frames to which it can be applied.
        asked: Whether the user chose it by name. If such a fix can't be applied, no plan is made; otherwise the plan
            records the refusal.
    """

    fix: str
    parameters: Mapping[str, object] = field(default_factory=dict)
    sequence: str | None = None
    frames: tuple[Fraction, ...] | None = None
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Refused:
    """A fix that is left out of a plan on some frames, because it would have to guess or would do harm there.

    Attributes:
        fix: Id of the fix.
        frames: Frame numbers in the source; empty for all frames.
        reason: The reason, in plain words.
        answers: Options that answer it, as in `Refusal`.
    """

    fix: str
    frames: tuple[Fraction, ...]
    reason: str
    answers: tuple[Answer, ...] = ()

    @classmethod
    def of(cls, fix: str, frames: tuple[Fraction, ...], refusal: Refusal) -> Refused:
        """Record a refusal.

        Args:
            fix: Id of the fix.
            frames: The frames on which it was refused; empty for all frames.
            refusal: The refusal.
        """
        return cls(fix, frames, str(refusal), refusal.answers)


def sequence_key(inspection: Inspection) -> str:
    """The key that identifies the inspected sequence inside its folder."""
    return inspection.sequence.key


def lossless_choices(inspection: FolderInspection) -> tuple[Choice, ...]:
    """Choose every lossless fix that an error or a warning names."""
    return tuple(choice for choice in all_choices(inspection) if fix_by_id(choice.fix).kind is FixKind.LOSSLESS)


def all_choices(inspection: FolderInspection) -> tuple[Choice, ...]:
    """Choose every fix that an error or a warning names, with its default parameters.

    If textures are not in the folder of their sequence, the fix that copies them is chosen as well, because without
    them the corrected folder would be incomplete.
    """
    return tuple(
        Choice(fix, sequence=sequence_key(one), asked=False)
        for one in inspection.inspections
        for fix in dict.fromkeys(_fixes(one))
    )


NORMAL_UP, _NORMAL_START, _NORMAL_PADDING = "y", 1, 4
"""The up axis of a normalised sequence, its first frame number, and the padding of its frame numbers."""


def normalising_choices(inspection: FolderInspection, up: str) -> tuple[Choice, ...]:
    """Choose fixes that bring every sequence into the same position and numbering, each by one constant.

    The centre of the reference frame moves to the origin, its longest side gets the stated length (if there is one),
    NORMAL_UP points up, and frame numbers start at 1 and have four digits.

    Args:
        inspection: The inspection of the folder, with the stated size.
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
    """Whether the centre of the reference frame is at the origin.

    It may be off by one unit in the last decimal place of the file, because scaling rounds to that place.
    """
    series = one.series
    if series.reference_index is None:
        return False
    last = 10.0**-series.reference_facts.decimals
    return bool((np.abs(series.centres[series.reference_index]) < 1.5 * last).all())


def serious(inspection: Inspection) -> tuple[Finding, ...]:
    """The errors and warnings of a sequence. Only these are corrected by fixes."""
    return tuple(finding for finding in inspection.findings if finding.severity >= Severity.WARNING)


def _fixes(one: Inspection) -> Iterator[str]:
    for finding in serious(one):
        yield from finding.fixes
    facts = one.series.facts
    if any(is_misplaced(use.target, one.context) for i in range(len(facts)) for use in one.context.materials(i).maps):
        yield "collect-textures"
