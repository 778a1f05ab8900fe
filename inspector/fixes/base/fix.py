"""The definition of a fix: its kind, the blocks that it may change, and the pure functions that plan and apply it."""

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
"""Parameter values by name: strings, numbers, Booleans, and lists and tables of these, as in a plan file."""

Work = TypeVar("Work")


class FixKind(Enum):
    """The kind of change that a fix makes. The members' values are the words that users read.

    Attributes:
        LOSSLESS: No data is invented, and no data is lost.
        ONE_CONSTANT: One stated constant changes all frames alike.
        CHANGES_DATA: Data is added, estimated or dropped (`DataChange`).
    """

    LOSSLESS = "lossless"
    ONE_CONSTANT = "one constant"
    CHANGES_DATA = "changes data"


class DataChange(Enum):
    """The effect of a fix of the kind CHANGES_DATA on the data."""

    ADDS = "adds"
    ESTIMATES = "estimates"
    DROPS = "drops"


class Claim(Enum):
    """A value of a frame that a fix decides. The members' values are the words used in a refusal."""

    ADDED_MAPS = "added maps"
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
    """A value before and after, safe to show.

    Attributes:
        label: The name or position of the value, such as `frame 12, vertex 3`.
        before: The old value, "" if there is none.
        after: The new value, "" if there is none.
    """

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Step(Generic[Work]):
    """A fix as planned for one sequence.

    Attributes:
        fix: Id of the fix.
        parameters: The values that the user gave and the constants that the plan found: enough to repeat the correction
            on the next export.
        frames: Numbers of the frames to which the step applies, including frames that it makes, in the source's
            numbering.
        summary: The effect of the step on this sequence, in one line.
        preview: Values before and after. `previewed` chooses those to show.
        answers: Ids of the checks whose findings the step corrects.
        work: Results of the plan that the edits need, kept in memory only; None if the edits need no results.
    """

    fix: str
    parameters: Parameters
    frames: tuple[Fraction, ...]
    summary: str
    preview: tuple[Change, ...] = ()
    answers: tuple[str, ...] = ()
    work: Work = field(kw_only=True, repr=False, compare=False)


@dataclass(frozen=True)
class Fix(Generic[Work]):
    """A correction as data: words for the user, limits that verification enforces, and the pure functions of the
    correction.

    A fix has a plan and at least one edit. Steps are applied in the order of `registry.ORDER`.

    Attributes:
        id: The name that users type; also the name of the module, with underscores.
        title: Label of the fix in lists and notes.
        kind: Whether it is lossless, sets one constant, or changes data.
        does: The effect of the fix, in plain words.
        cost: The data that is added, estimated or dropped; "" unless the fix changes data.
        touches: Keywords of the blocks that may change. Every other block is compared byte for byte after writing.
        claims: Values that the fix decides. Two fixes that claim the same value of a frame conflict.
        plan: plan(context, parameters, frames) makes the step for a sequence. `parameters` are the values that the user
            gave; `frames` are frame numbers, or None for all frames to which the fix can be applied. It raises Refusal,
            with the reason, if the fix can't be applied or would have to guess.
        changes: Whether the fix adds, estimates or drops data; empty unless the fix changes data.
        parameters: Descriptions of the parameters, by name. Each states the default, unless the parameter is required.
        required: Names of the parameters without which the fix is always refused.
        path: Name of the parameter that is a path, relative to the current folder; "" if no parameter is a path.
        whole: Whether the fix always changes the whole sequence, so that frames can't be chosen.
        edit_frame: edit_frame(frame, step, number) returns the changed frame; `number` is the frame's number in the
            source. None if the fix changes no frame's content.
        edit_output: edit_output(outputs, step, context) returns the changed list of frames to write. None if the fix
            doesn't change the list.
        edit_assets: edit_assets(assets, step, context) returns the changed libraries and textures that are delivered
            with the frames. None if the fix changes none of them.
    """

    id: str
    title: str
    kind: FixKind
    does: str
    cost: str
    touches: frozenset[bytes]
    claims: frozenset[Claim]
    plan: Callable[[CheckContext, Parameters, tuple[Fraction, ...] | None], Step[Work]]
    changes: frozenset[DataChange] = frozenset()
    parameters: Mapping[str, str] = field(default_factory=dict)
    required: frozenset[str] = frozenset()
    path: str = ""
    whole: bool = False
    edit_frame: Callable[[Frame, Step[Work], Fraction], Frame] | None = None
    edit_output: Callable[[OutputFrames, Step[Work], CheckContext], OutputFrames] | None = None
    edit_assets: Callable[[Assets, Step[Work], CheckContext], Assets] | None = None

    @property
    def described(self) -> dict[str, str]:
        """The descriptions of the parameters, by name; they state which parameters are required."""
        return {name: f"{text}; required" if name in self.required else text for name, text in self.parameters.items()}

    @property
    def kind_text(self) -> str:
        """The kind in words, such as `lossless` or, for a fix that changes data, `changes data: adds, drops`."""
        order = [change.value for change in DataChange if change in self.changes]
        return f"{self.kind.value}: {', '.join(order)}" if order else self.kind.value


AnyStep = Step[Any]
"""A step of any fix, for code that doesn't use the step's work."""
AnyFix = Fix[Any]
"""Any fix, for code that treats all fixes alike."""
