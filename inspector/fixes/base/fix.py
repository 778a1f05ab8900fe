"""What a fix is: its class, what it may touch, and the pure functions that work it out and apply it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.fixes.base.assets import Kit
from inspector.fixes.base.output_frames import Slots
from inspector.formats.frame import Frame

Parameters = Mapping[str, object]
"""Parameter name -> string, number, true or false: what a plan file can hold."""


class FixKind(Enum):
    """EXACT: nothing invented, nothing lost. CONSTANT: one number for all frames. INVENTING: makes or drops some."""

    EXACT = "exact"
    CONSTANT = "constant"
    INVENTING = "inventing"


@dataclass(frozen=True, slots=True)
class Change:
    """One value before and after, safe to show; `before` or `after` is "" where there is none."""

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Step:
    """A fix worked out for one sequence.

    parameters: what the user gave and the constants that came of it, enough to make the same correction on the
    next export. frames: numbers (as in the source) that are touched or made. answers: check ids. work: values
    that apply needs, kept in memory only.
    """

    fix: str
    parameters: Parameters
    frames: tuple[Fraction, ...]
    summary: str
    preview: tuple[Change, ...] = ()
    answers: tuple[str, ...] = ()
    work: object = field(default=None, repr=False, compare=False)


WorkOut = Callable[[CheckContext, Parameters, "tuple[Fraction, ...] | None"], Step]


@dataclass(frozen=True)
class Fix:
    """does, cost: plain words; cost says what is lost or invented ("" for an exact fix).

    parameters: name -> plain description. touches: keywords of blocks that may change; verification holds the fix to
    them. claims: values that it decides; two fixes that claim one value on one frame conflict.
    whole: always acts on the whole sequence, so that nobody can choose its frames.

    work_out(context, parameters, frames): frames None means all that the fix can be applied to. Raises Refusal with
    the reason. Then at most one change each to a frame (called for the step's frames, with the number in the
    source), to the list of frames to write, and to the libraries and textures that go along.
    """

    id: str
    title: str
    kind: FixKind
    does: str
    cost: str
    touches: frozenset[bytes]
    claims: frozenset[str]
    work_out: WorkOut
    parameters: Mapping[str, str] = field(default_factory=dict)
    whole: bool = False
    frame: Callable[[Frame, Step, Fraction], Frame] | None = None
    slots: Callable[[Slots, Step, CheckContext], Slots] | None = None
    kit: Callable[[Kit, Step, CheckContext], Kit] | None = None
