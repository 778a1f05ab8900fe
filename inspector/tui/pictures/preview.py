"""Frames as a plan would leave them, for pictures. The fixes are applied in memory, and nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cached_property

from textual.message import Message

from inspector.delivery.apply import Corrections, Sources
from inspector.delivery.choices import Choice
from inspector.delivery.drafting import untried_plan
from inspector.delivery.plan import Plan, SequencePlan
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.output_frames import OutputFrame
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import FrameReader
from inspector.inspection.inspection import FolderInspection
from inspector.names import safe
from inspector.report.frame_rows import SequenceView
from inspector.safe_open import read_place
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.pictures.frame_store import FrameStore
from inspector.tui.pictures.scene import Source


class PreviewStore(FrameStore):
    """The corrected frames of one sequence. Indices are those of the plan's outputs.

    Args:
        view: The sequence, with one entry for each output.
        scope: The folders that may be read.
    """

    def __init__(self, view: SequenceView, plan: SequencePlan, scope: Scope) -> None:
        super().__init__(view)
        self._plan = plan
        self._corrections = Corrections(plan.inspection.series.facts, plan.steps, Sources(scope, {}))
        self._preview_reader = FrameReader()

    def load(self, at: int) -> Frame:
        """Make a corrected frame.

        Raises:
            MeshqcError: A source file has changed, or the corrected frame can't be read.
        """
        output = self._plan.outputs[at]
        path = self._plan.inspection.series.facts[output.sources[0]].file.path
        try:
            return self._preview_reader.read(self._corrections.make(output).data, path, read_place)
        except UnreadableFrame as error:
            raise MeshqcError(
                f"{safe(path.name)}: can't be drawn, because the corrected frame can't be read"
            ) from error


@dataclass(frozen=True, eq=False)
class Preview:
    """The frames of one sequence as a plan would leave them.

    Attributes:
        plan: The sequence's part of the plan.
        staged: Whether `plan` is part of the staged plan, and not the plan for a fix that is only offered.
        source: The source of the corrected frames. Indices are those of the plan's outputs.
    """

    plan: SequencePlan
    staged: bool
    source: Source

    @cached_property
    def _places(self) -> dict[Fraction, int]:
        return {output.number: at for at, output in reversed(list(enumerate(self.plan.outputs)))}

    def place(self, number: Fraction) -> int | None:
        """Return the index of a frame in the plan's outputs; None if the plan leaves the frame out."""
        return self._places.get(number)

    def adds(self, number: Fraction) -> bool:
        at = self.place(number)
        return at is not None and self.plan.outputs[at].made is not None

    def words(self, number: Fraction) -> str:
        """Describe the effect of the plan on a frame, as in `not staged: Restore UVs from the reference`."""
        at = self.place(number)
        if at is None:
            return "after the fix: this frame is left out"
        fixes = [fix_by_id(step.fix) for step in self.plan.steps if not step.frames or number in step.frames]
        output = self.plan.outputs[at]
        if not fixes and output.made is None:
            return "after the fix: this frame is unchanged"
        parts = []
        if output.made is not None:
            fixes = [fix for fix in fixes if fix.edit_output is None]
            parts.append(f"added from {self._sources(output)}")
        parts += [fix.title if fix.kind is FixKind.LOSSLESS else f"{fix.title} ({fix.kind_text})" for fix in fixes]
        return f"{'staged' if self.staged else 'not staged'}: {', '.join(parts)}"

    def _sources(self, output: OutputFrame) -> str:
        """Describe the sources of an added frame, as in `83% of frame 18 and 17% of frame 24, UVs of frame 2`."""
        facts = self.plan.inspection.series.facts
        shares = sorted(
            (facts[index].number, weight)
            for index, weight in zip(output.sources, output.weights, strict=True)
            if weight
        )
        words = " and ".join(f"{weight:.0%} of frame {frame_text(source)}" for source, weight in shares)
        if output.weights[0]:
            return words
        return f"{words}, UVs of frame {frame_text(facts[output.sources[0]].number)}"


class PreviewReady(Message):
    """A preview, or the reason why there is none.

    Args:
        asked: Identifier of the request.
        preview: The preview; None if there is none.
        reason: The reason why there is no preview; empty if there is one.
    """

    def __init__(self, asked: object, preview: Preview | None, reason: str = "") -> None:
        super().__init__()
        self.asked = asked
        self.preview = preview
        self.reason = reason


def preview_of(
    source: Source,
    inspection: FolderInspection,
    staged: Plan | None,
    offered: Sequence[tuple[Choice, ...]],
    number: Fraction,
) -> Preview:
    """Return a preview of the staged plan or, if it has no step for the frame, of the first offered fix that can be
    applied.

    Args:
        source: The source of the original frames.
        inspection: The inspection of the folder.
        staged: The staged plan; None if there is none.
        offered: For each offered fix, the choices that it would add.
        number: The frame number.

    Raises:
        MeshqcError: No fix is staged or offered for the frame, or none can be applied.
    """
    key = source.view.sequence.key
    reason = "no fix is staged or offered for this frame"
    if staged is not None:
        part = next((one for one in staged.sequences if one.key == key), None)
        if part is not None and any(not step.frames or number in step.frames for step in part.steps):
            return _preview(source, part, inspection, staged=True)
    for choices in offered:
        try:
            plan = untried_plan(inspection, choices)
        except MeshqcError as error:
            reason = str(error)
            continue
        part = next(one for one in plan.sequences if one.key == key)
        if part.steps:
            return _preview(source, part, inspection, staged=False)
        reason = next((refused.reason for refused in part.refused), reason)
    raise MeshqcError(reason)


def _preview(source: Source, plan: SequencePlan, inspection: FolderInspection, *, staged: bool) -> Preview:
    facts = plan.inspection.series.facts
    made = tuple(
        replace(facts[output.sources[0]], number=output.number, readable=True, problems=()) for output in plan.outputs
    )
    view = SequenceView(source.view.sequence, made)
    scope = Scope(inspection.root, inspection.settings.textures)
    return Preview(plan, staged, Source(view, PreviewStore(view, plan, scope), source.textures))
