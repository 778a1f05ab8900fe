"""What a fix is: its kind, the blocks it may touch, and the pure functions that plan it and apply it."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from enum import Enum
from fractions import Fraction
from typing import Any, Generic, TypeVar

from inspector.checks.base.context import CheckContext
from inspector.fixes.base.assets import Assets
from inspector.fixes.base.output_frames import OutputFrames
from inspector.formats.frame import Frame

Parameters = Mapping[str, object]
"""Parameter name -> string, number, true or false: what a plan file can hold."""

Work = TypeVar("Work")


class FixKind(Enum):
    """How far a fix goes; the values are the words that users read."""

    LOSSLESS = "lossless"
    ONE_CONSTANT = "one constant"
    CHANGES_DATA = "changes data"


class DataChange(Enum):
    """What a fix of the kind CHANGES_DATA does to the data."""

    ADDS = "adds"
    ESTIMATES = "estimates"
    DROPS = "drops"


class Claim(Enum):
    """A value of a frame that a fix decides; the values are the words of a refusal ("both decide the faces of ...")."""

    COLOUR_MAPS = "colour maps"
    DECIMAL_SIGNS = "decimal signs"
    DECIMALS = "decimals"
    EXECUTABLE_STATEMENTS = "executable statements"
    FACES = "faces"
    FILE_NAMES = "file names"
    FILES = "files"
    HANDEDNESS = "handedness"
    INDICES = "indices"
    LIBRARIES = "libraries"
    LIBRARY_TEXT = "library text"
    MAP_STATEMENTS = "map statements"
    MATERIAL_NAMES = "material names"
    MISSING_TEXTURES = "missing textures"
    NEUTRAL_MATERIALS = "neutral materials"
    NORMALS = "normals"
    NUMBERS = "numbers"
    OFFSET = "offset"
    OPACITY = "opacity"
    POSITIONS = "positions"
    SCALE = "scale"
    TEXT_FORM = "text form"
    TEXTURES = "textures"
    UNUSED_MATERIALS = "unused materials"
    UP_AXIS = "up axis"
    UVS = "UVs"
    UV_MIRRORING = "UV mirroring"
    UV_PROPORTION = "UV proportion"
    UV_ROTATION = "UV rotation"


@dataclass(frozen=True, slots=True)
class Change:
    """One value before and after, safe to show."""

    label: str
    """What changes, such as `frame 12, vertex 3`."""
    before: str
    """The old value; "" where there is none."""
    after: str
    """The new value; "" where there is none."""


@dataclass(frozen=True)
class Step(Generic[Work]):
    """A fix planned for one sequence."""

    fix: str
    """Id of the fix."""
    parameters: Parameters
    """What the user gave and the constants that the plan found: enough to repeat the correction on the next export."""
    frames: tuple[Fraction, ...]
    """Numbers, as in the source, of the frames that are changed or made."""
    summary: str
    """What the step does to this sequence, in one line."""
    preview: tuple[Change, ...] = ()
    """The first values before and after."""
    answers: tuple[str, ...] = ()
    """Ids of the checks whose findings the step answers."""
    work: Work = field(kw_only=True, repr=False, compare=False)
    """What the plan found and the edit needs, in memory only; None where the edit needs nothing."""


@dataclass(frozen=True)
class Fix(Generic[Work]):
    """A correction as data: words for the user, limits that verification enforces, and pure functions.

    A fix has a plan and at least one edit. Steps are applied in the order of `registry.ORDER`.
    """

    id: str
    """What users type; also the name of the module, with underscores."""
    title: str
    """Label of the fix in lists and notes."""
    kind: FixKind
    """Whether it is lossless, sets one constant, or changes data."""
    does: str
    """What it does, in plain words."""
    cost: str
    """What is added, estimated or dropped; "" unless the fix changes data."""
    touches: frozenset[bytes]
    """Keywords of the blocks that may change; every other block is compared byte for byte after writing."""
    claims: frozenset[Claim]
    """Values that it decides: two fixes that claim one value of one frame conflict."""
    plan: Callable[[CheckContext, Parameters, tuple[Fraction, ...] | None], Step[Work]]
    """plan(context, parameters, frames): the step for a sequence; frames None: all that the fix can be applied to.
    Raises Refusal with the reason where the fix would be a guess."""
    changes: frozenset[DataChange] = frozenset()
    """Of a fix that changes data: whether it adds, estimates or drops data."""
    parameters: Mapping[str, str] = field(default_factory=dict)
    """Parameter name -> description."""
    whole: bool = False
    """The fix always acts on the whole sequence; its frames can't be chosen."""
    edit_frame: Callable[[Frame, Step[Work], Fraction], Frame] | None = None
    """edit_frame(frame, step, number): one frame of the step, by its number in the source."""
    edit_output: Callable[[OutputFrames, Step[Work], CheckContext], OutputFrames] | None = None
    """edit_output(outputs, step, context): the list of frames to write."""
    edit_assets: Callable[[Assets, Step[Work], CheckContext], Assets] | None = None
    """edit_assets(assets, step, context): the libraries and textures that are delivered with the frames."""

    @property
    def kind_text(self) -> str:
        """The kind in words: `lossless`, or of a fix that changes data `changes data: adds, drops`."""
        order = [change.value for change in DataChange if change in self.changes]
        return f"{self.kind.value}: {', '.join(order)}" if order else self.kind.value


AnyStep = Step[Any]
"""A step of whatever fix, for code that only passes it on."""
AnyFix = Fix[Any]
"""Any fix, for code that treats all alike."""
