"""Apply the steps of a plan to the frames, in memory."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path

import numpy as np

from inspector.checks.base.context import CheckContext, Measured
from inspector.delivery.journal import sha256
from inspector.errors import MeshqcError, SourceChanged
from inspector.fixes.base.blend import blend
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrame
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.frame import Frame
from inspector.formats.reading import source_text
from inspector.formats.wavefront.reader import ObjReader, read_frame
from inspector.formats.wavefront.statements import FACE_STATEMENTS
from inspector.formats.wavefront.writer import recounts_faces, write_frame
from inspector.names import Name
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.measure import measure


class Sources:
    """Reads source files, and refuses files that have changed since the inspection.

    Attributes:
        digests: SHA-256 of each file that was read, by path.
    """

    def __init__(self, scope: Scope, inspected: Mapping[Path, bytes]) -> None:
        """Store the digest of each file that the inspection read, by path. Later reads are compared with it."""
        self._scope = scope
        self.digests: dict[Path, str] = {}
        self._inspected = {path: sha256(data) for path, data in inspected.items()}

    def read(self, path: Path) -> bytes:
        """Read a file.

        Raises:
            MeshqcError: The file can't be read, or its content has changed since the inspection or an earlier read.
        """
        try:
            data = self._scope.read(path)
        except OSError as error:
            raise MeshqcError(f"{Name.from_path(path)}: {error.strerror}") from error
        digest = sha256(data)
        if self._inspected.get(path, digest) != digest:
            raise SourceChanged.of(str(Name.from_path(path)))
        if self.digests.setdefault(path, digest) != digest:
            raise MeshqcError(
                f"{Name.from_path(path)}: the source file changed between two reads; run the command again"
            )
        return data

    def frame_text(self, file: FrameFile) -> bytes:
        """Read a frame as OBJ text.

        Raises:
            MeshqcError: The file can't be read as a frame, or has changed since the inspection.
        """
        return self.as_text(self.read_frame(file), file.path)

    def as_text(self, data: bytes, path: Path) -> bytes:
        """Convert the content of the frame file at `path` to OBJ text.

        Raises:
            MeshqcError: The file can't be read as a frame.
        """
        return source_text(data, path, self.read).text

    def read_frame(self, file: FrameFile) -> bytes:
        """Read a frame file.

        Raises:
            MeshqcError: The file can't be read, or has changed since the inspection.
        """
        try:
            status = file.place.stat()
        except OSError as error:
            raise MeshqcError(f"{Name.from_path(file.path)}: {error.strerror}") from error
        if (status.st_size, status.st_mtime_ns) != (file.size, file.mtime_ns):
            raise SourceChanged.of(str(Name.from_path(file.path)))
        return self.read(file.path)


_FRAMES_KEPT = 4  # the two neighbours from which a run of frames is blended, and the two of the next run


@dataclass(frozen=True, slots=True)
class Made:
    """The content of one delivered frame.

    Attributes:
        data: Content of the file.
        fixes: Ids of the fixes, in the order in which they were applied.
        touches: Keywords of the blocks that the fixes may change.
    """

    data: bytes
    fixes: tuple[str, ...]
    touches: frozenset[bytes]


def _refuse_other_corners(frame: Frame, data: bytes, output: OutputFrame) -> None:
    """Raise MeshqcError if a face of a frame has different corners after writing."""
    ours, theirs = frame.corners, read_frame(data).corners
    if not all(np.array_equal(getattr(ours, name), getattr(theirs, name)) for name in ("offsets", "v", "vt", "vn")):
        raise MeshqcError(
            f"{output.file}: faces with relative indices have different corners after writing; nothing was delivered"
        )


class Corrections:
    """Applies the steps of one sequence. OBJ frames that no step edits are copied without being parsed."""

    def __init__(self, facts: Sequence[FrameFacts], steps: Sequence[AnyStep], sources: Sources) -> None:
        """Assign the steps, in the order in which they are applied, to the frames that they edit or make."""
        self._facts = facts
        self._sources = sources
        self._reader = ObjReader()
        self._frames: OrderedDict[int, Frame] = OrderedDict()
        self._steps: dict[Fraction, list[AnyStep]] = {}
        for step in steps:
            if fix_by_id(step.fix).edit_frame is not None:
                for number in step.frames:
                    self._steps.setdefault(number, []).append(step)
        self._makers = {
            number: step.fix for step in steps if fix_by_id(step.fix).edit_output is not None for number in step.frames
        }

    def changes(self, output: OutputFrame) -> bool:
        """Whether a step edits at least one of the source frames of a delivered frame."""
        return any(self._steps_of(index) for index in output.sources)

    def make(self, output: OutputFrame) -> Made:
        """Make the content of a delivered frame.

        Raises:
            MeshqcError: A source file has changed, or the frame can't be written.
        """
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
        data = write_frame(frame)
        if recounts_faces(frame):
            _refuse_other_corners(frame, data, output)
            touches |= FACE_STATEMENTS
        return Made(data, tuple(dict.fromkeys(fixes)), touches)

    def _steps_of(self, index: int) -> list[AnyStep]:
        return self._steps.get(self._facts[index].number, []) if self._facts[index].filled else []

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


def context_as_left(context: CheckContext, steps: Sequence[AnyStep]) -> CheckContext:
    """Return the context that a sequence has after some steps, for a fix that makes frames from other frames.

    Only edited frames whose faces differ from the reference frame's are measured again.

    Raises:
        MeshqcError: A source file has changed since the inspection.
    """
    series = context.series
    if series.reference_index is None:
        return context
    sources = Sources(Scope(context.resolver.scope.roots[0], context.settings.textures), {})
    corrections = Corrections(series.facts, steps, sources)
    facts = list(series.facts)
    for index, one in enumerate(series.facts):
        output = OutputFrame(one.number, one.file.name, (index,))
        if one.filled and one.topology != series.reference_facts.topology and corrections.changes(output):
            facts[index] = measure(read_frame(corrections.make(output).data), one.file)
    return replace(context, series=replace(series, facts=tuple(facts)), measured=Measured())
