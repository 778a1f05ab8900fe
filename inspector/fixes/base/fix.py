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
"""Parameter values by name: strings, numbers, Booleans, and lists and tables of these."""

Work = TypeVar("Work")


class FixKind(Enum):
    """The kind of change that a fix makes. The values are the words that users read.

    Attributes:
        LOSSLESS: The fix adds nothing and drops nothing.
        ONE_CONSTANT: The fix applies one constant to all frames.
        CHANGES_DATA: The fix adds, estimates or drops data (`DataChange`).
    """

    LOSSLESS = "lossless"
    ONE_CONSTANT = "one constant"
    CHANGES_DATA = "changes data"


class DataChange(Enum):
    """How a fix of the kind CHANGES_DATA changes the data."""

    ADDS = "adds"
    ESTIMATES = "estimates"
    DROPS = "drops"


class Claim(Enum):
    """A property of the delivery that a fix determines. The values are the words that refusals show."""

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
    """A value before and after a fix, safe to show.

    Attributes:
        label: Name or position of the value, such as `frame 12, vertex 3`.
        before: The old value, or "".
        after: The new value, or "".
    """

    label: str
    before: str
    after: str


@dataclass(frozen=True)
class Step(Generic[Work]):
    """A fix as planned for one sequence.

    Attributes:
        fix: Id of the fix.
        parameters: Values that the user gave, and constants that the plan found. They are enough to repeat the
            correction on the next export.
        frames: Numbers, in the source, of the frames to which the step applies. Frames that the step makes are
            included.
        summary: Effect of the step on this sequence, in one line.
        preview: Values before and after the step. `previewed` selects the values to show.
        answers: Ids of the checks whose findings the step corrects.
        work: Data for the edits, kept in memory only; None if the edits need no data.
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
    """A correction as data: texts for the user, limits that verification enforces, and pure functions that do the work.

    A fix has a plan and at least one edit. Steps are applied in the order of `registry.ORDER`.

    Attributes:
        id: Name that users type. The module has the same name, with underscores.
        title: Label of the fix in lists and notes.
        kind: Whether the fix is lossless, applies one constant, or changes data.
        does: Effect of the fix, in plain words.
        cost: The data that is added, estimated or dropped; "" unless the fix changes data.
        touches: Keywords of the blocks that may change. All other blocks are compared byte for byte after writing.
        claims: Properties that the fix determines. Two fixes that claim the same property of a frame conflict.
        plan: Function `plan(context, parameters, frames)` that makes the step for a sequence. `parameters` are the
            values that the user gave. `frames` are frame numbers, or None for all frames to which the fix can be
            applied. The function raises Refusal, with the reason, if the fix can't be applied or would have to guess.
        changes: The effects of the fix on the data (adds, estimates, drops); empty unless the fix changes data.
        parameters: Descriptions of the parameters, by name. Each description states the default, unless the parameter
            is required.
        required: Names of the parameters without which the fix is always refused.
        path: Name of the parameter that is a path; "" if no parameter is a path. A relative path is resolved from the
            current folder.
        whole: Whether the fix always changes the whole sequence, so that the user can't choose frames.
        edit_frame: Function `edit_frame(frame, step, number)` that returns the changed frame; None if the fix changes
            no frame's content. `number` is the frame's number in the source.
        edit_output: Function `edit_output(outputs, step, context)` that returns the changed list of frames to write;
            None if the fix doesn't change the list.
        edit_assets: Function `edit_assets(assets, step, context)` that returns the changed libraries and textures; None
            if the fix changes none of them.
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
        """The descriptions of the parameters, by name, with a note on each required parameter."""
        return {name: f"{text}; required" if name in self.required else text for name, text in self.parameters.items()}

    @property
    def kind_text(self) -> str:
        """The kind in words, such as `lossless` or, for a fix that changes data, `changes data: adds, drops`."""
        order = [change.value for change in DataChange if change in self.changes]
        return f"{self.kind.value}: {', '.join(order)}" if order else self.kind.value


AnyStep = Step[Any]
"""A step of any fix, for code that doesn't use `Step.work`."""
AnyFix = Fix[Any]
"""Any fix, for code that treats all fixes alike."""
