"""What is wanted, and what becomes of a folder: choices and plans as values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from inspector.fixes.base.assets import Assets
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrames
from inspector.inspection.inspection import FolderInspection, Inspection


@dataclass(frozen=True)
class Choice:
    """A fix that somebody wants.

    sequence: key of one sequence (see sequence_key), None for all. frames: numbers in the source, None for those that
    the findings name, or, where none names this fix, all that it can be applied to. asked: chosen by name, so
    that a refusal stops the plan; otherwise the refusal is kept in it.
    """

    fix: str
    parameters: Mapping[str, object] = field(default_factory=dict)
    sequence: str | None = None
    frames: tuple[Fraction, ...] | None = None
    asked: bool = True


@dataclass(frozen=True, slots=True)
class Refused:
    """A fix that would be a guess for these frames, and why."""

    fix: str
    frames: tuple[Fraction, ...]
    reason: str


@dataclass(frozen=True)
class SequencePlan:
    """What becomes of one sequence: steps in canonical order, the frames to write, what goes along with them."""

    key: str
    inspection: Inspection
    steps: tuple[AnyStep, ...]
    outputs: OutputFrames
    assets: Assets
    refused: tuple[Refused, ...] = ()


@dataclass(frozen=True)
class Plan:
    """What becomes of a folder. choices: as they were given."""

    choices: tuple[Choice, ...]
    inspection: FolderInspection
    sequences: tuple[SequencePlan, ...]

    @property
    def steps(self) -> tuple[AnyStep, ...]:
        """The steps of all sequences; none: there is nothing to correct."""
        return tuple(step for one in self.sequences for step in one.steps)


def sequence_key(inspection: Inspection) -> str:
    """What names the inspected sequence inside its folder."""
    return inspection.sequence.key
