"""A sequence's plan applied: the bytes of each frame to write."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass
from fractions import Fraction

from inspector.delivery.sources import Sources
from inspector.delivery.types import SequencePlan
from inspector.fixes.base.blend import blend
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrame
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import FrameReader
from inspector.formats.wavefront.writer import write_frame

_FRAMES_KEPT = 4  # the neighbours that a run of made frames is blended from, and the next ones


@dataclass(frozen=True, slots=True)
class Made:
    """What one output comes to. fixes: ids, in the order applied; touches: keywords of blocks that they may change."""

    data: bytes
    fixes: tuple[str, ...]
    touches: frozenset[bytes]


class Corrections:
    """Applies the steps of one sequence. Frames that nothing touches are never parsed, but copied."""

    def __init__(self, plan: SequencePlan, sources: Sources) -> None:
        self._facts = plan.inspection.series.facts
        self._sources = sources
        self._reader = FrameReader()
        self._frames: OrderedDict[int, Frame] = OrderedDict()
        self._steps: dict[Fraction, list[AnyStep]] = {}
        for step in plan.steps:
            if fix_by_id(step.fix).edit_frame is not None:
                for number in step.frames:
                    self._steps.setdefault(number, []).append(step)
        self._makers = {
            number: step.fix
            for step in plan.steps
            if fix_by_id(step.fix).edit_output is not None
            for number in step.frames
        }

    def make(self, output: OutputFrame) -> Made:
        """The bytes of one output. Raises MeshqcError if a source changed or a frame can't be written."""
        steps = [step for index in output.sources for step in self._steps_of(index)]
        if output.made is None and not steps:
            facts = self._facts[output.sources[0]]
            read = self._sources.frame_text if facts.readable else self._sources.read_frame
            return Made(read(facts.file), (), frozenset())
        sources = [self._corrected(index) for index in output.sources]
        frame = blend(sources, output.weights) if len(sources) > 1 else sources[0]
        fixes = [step.fix for step in steps]
        if output.made is not None and output.number in self._makers:
            fixes.append(self._makers[output.number])
        touches = frozenset[bytes]().union(*(fix_by_id(fix).touches for fix in fixes))
        return Made(write_frame(frame), tuple(dict.fromkeys(fixes)), touches)

    def _steps_of(self, index: int) -> list[AnyStep]:
        return self._steps.get(self._facts[index].number, []) if self._facts[index].readable else []

    def _corrected(self, index: int) -> Frame:
        if index not in self._frames:
            frame = self._reader.read(self._sources.frame_text(self._facts[index].file))
            for step in self._steps_of(index):
                edit = fix_by_id(step.fix).edit_frame
                assert edit is not None
                frame = edit(frame, step, self._facts[index].number)
            self._frames[index] = frame
            while len(self._frames) > _FRAMES_KEPT:
                self._frames.popitem(last=False)
        return self._frames[index]
