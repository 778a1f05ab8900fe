"""A plan -> files in the staging folder."""

from __future__ import annotations

import os
import posixpath
from collections import OrderedDict
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from functools import partial
from pathlib import Path

import numpy as np

from inspector.delivery.journal import Written, sha256
from inspector.delivery.plan import Plan, SequencePlan
from inspector.delivery.staging import Staging
from inspector.errors import Cancelled, MeshqcError, Refusal
from inspector.fixes.base.assets import AssetFile, folder_of
from inspector.fixes.base.blend import blend
from inspector.fixes.base.fix import AnyStep
from inspector.fixes.base.output_frames import OutputFrame
from inspector.fixes.base.registry import fix_by_id
from inspector.formats.frame import Frame
from inspector.formats.reading import source_text
from inspector.formats.wavefront.reader import FrameReader, read_frame
from inspector.formats.wavefront.statements import FACE_STATEMENTS
from inspector.formats.wavefront.writer import recounts_faces, write_frame
from inspector.names import Name
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.scope import Scope, fold
from inspector.sequence.run.scan import Cancel


class Sources:
    """Reads source files. digests: path -> SHA-256 of what was read first."""

    def __init__(self, scope: Scope, inspected: Mapping[Path, bytes]) -> None:
        """scope: the folders that may be read; inspected: small files that were read whole at the inspection, as they
        were then."""
        self._scope = scope
        self.digests: dict[Path, str] = {}
        self._inspected = {path: sha256(data) for path, data in inspected.items()}

    def read(self, path: Path) -> bytes:
        """Raises MeshqcError if the file can't be read or is no longer what was read before."""
        try:
            data = self._scope.read(path)
        except OSError as error:
            raise MeshqcError(f"{Name.from_path(path)}: {error.strerror}") from error
        digest = sha256(data)
        if self._inspected.get(path, digest) != digest:
            raise _changed(path)
        if self.digests.setdefault(path, digest) != digest:
            raise MeshqcError(f"{Name.from_path(path)}: the source changed while it was being read")
        return data

    def frame_text(self, file: FrameFile) -> bytes:
        """A frame in OBJ's words. Raises MeshqcError as `read_frame` does, and where it can't be read."""
        return self.as_text(self.read_frame(file), file.path)

    def as_text(self, data: bytes, path: Path) -> bytes:
        """`data`, the content of `path`, in OBJ's words. Raises MeshqcError."""
        return source_text(data, path, self.read).text

    def read_frame(self, file: FrameFile) -> bytes:
        """The bytes of a frame. Raises MeshqcError also if it is not the file that was inspected."""
        try:
            status = file.place.stat()
        except OSError as error:
            raise MeshqcError(f"{Name.from_path(file.path)}: {error.strerror}") from error
        if (status.st_size, status.st_mtime_ns) != (file.size, file.mtime_ns):
            raise _changed(file.path)
        return self.read(file.path)


def _changed(path: Path) -> MeshqcError:
    return MeshqcError(f"{Name.from_path(path)}: changed since it was inspected; inspect the folder again")


_FRAMES_KEPT = 4  # the neighbours that a run of made frames is blended from, and the next ones


@dataclass(frozen=True, slots=True)
class Made:
    """What one output comes to. fixes: ids, in the order applied; touches: keywords of blocks that they may change."""

    data: bytes
    fixes: tuple[str, ...]
    touches: frozenset[bytes]


def _refuse_other_corners(frame: Frame, data: bytes, output: OutputFrame) -> None:
    """Raises MeshqcError unless the faces, which no fix may touch, mean what they meant: the same corners."""
    ours, theirs = frame.corners, read_frame(data).corners
    if not all(np.array_equal(getattr(ours, name), getattr(theirs, name)) for name in ("offsets", "v", "vt", "vn")):
        raise MeshqcError(f"{output.file}: faces with relative indices changed their corners; nothing was delivered")


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
        data = write_frame(frame)
        if recounts_faces(frame):
            _refuse_other_corners(frame, data, output)
            touches |= FACE_STATEMENTS
        return Made(data, tuple(dict.fromkeys(fixes)), touches)

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


@dataclass(frozen=True)
class Job:
    """One file to write: its place, the source files it comes from, and what makes its bytes and its record."""

    path: str
    sources: tuple[Path, ...]
    make: Callable[[], tuple[bytes, Written]]


@dataclass
class Writing:
    """One delivery being written. `sources` keeps the digests of all that is read."""

    plan: Plan
    staging: Staging
    sources: Sources = field(init=False)

    def __post_init__(self) -> None:
        books = (one.inspection.context.book for one in self.plan.sequences)
        inspection = self.plan.inspection
        scope = Scope(inspection.root, inspection.settings.textures)
        self.sources = Sources(scope, {path: data for book in books for path, data in book.as_read.items()})

    def run(self, progress: Callable[[int, int], None], cancelled: Cancel) -> list[Written]:
        """Write every file of the plan, or take it over from an earlier run.

        Raises MeshqcError, OSError, Cancelled; what is written by then stays in the staging folder.
        """
        jobs = [*self._frames(), *self._kit()]
        _refuse_collisions(jobs, self.staging)
        self.staging.keep_only({job.path for job in jobs})
        files = []
        for number, job in enumerate(jobs, 1):
            if cancelled():
                raise Cancelled("stopped; what is written is kept and resumed by the same command")
            files.append(self._taken_over(job) or self._write(job))
            progress(number, len(jobs))
        self._read_the_rest()
        return files

    def _read_the_rest(self) -> None:
        """Frames that were replaced or dropped are not needed, but they must stay as they are too."""
        for one in self.plan.sequences:
            for facts in one.inspection.series.facts:
                if facts.readable or os.access(facts.file.path, os.R_OK):
                    self.sources.read_frame(facts.file)

    def _frames(self) -> Iterator[Job]:
        for one in self.plan.sequences:
            corrections = Corrections(one, self.sources)
            for output in one.outputs:
                paths = tuple(one.inspection.series.facts[index].file.path for index in output.sources)
                place = frame_path(one, output)
                yield Job(place, paths, partial(self._frame, corrections, output, place, paths))

    def _frame(
        self, corrections: Corrections, output: OutputFrame, place: str, paths: tuple[Path, ...]
    ) -> tuple[bytes, Written]:
        made = corrections.make(output)
        touches = tuple(sorted(keyword.decode() for keyword in made.touches))
        return made.data, Written(place, self._digests(paths), sha256(made.data), made.fixes, touches, output.made)

    def _kit(self) -> Iterator[Job]:
        for place, file in _asset_files(self.plan).items():
            yield Job(place, file.sources, partial(self._along, place, file))

    def _along(self, place: str, file: AssetFile) -> tuple[bytes, Written]:
        contents = [self.sources.read(path) for path in file.sources]
        data = contents[0] if file.content is None else file.content
        return data, Written(place, self._digests(file.sources), sha256(data))

    def _write(self, job: Job) -> Written:
        data, written = job.make()
        self.staging.write(data, written)
        return written

    def _taken_over(self, job: Job) -> Written | None:
        """What an earlier run wrote, if it is whole and its sources are what they were."""
        written = self.staging.done(job.path)
        if written is None:
            return None
        for path in job.sources:
            self.sources.read(path)
        return written if written.sources == self._digests(job.sources) else None

    def _digests(self, paths: tuple[Path, ...]) -> tuple[tuple[str, str], ...]:
        return tuple((source_name(self.plan, path), self.sources.digests[path]) for path in paths)


def frame_path(plan: SequencePlan, output: OutputFrame) -> str:
    """The place of a frame in the delivered folder."""
    return posixpath.join(folder_of(plan.inspection.context), output.file_name)


def source_name(plan: Plan, path: Path) -> str:
    """A source file for the receipt: relative to the source folder, absolute where it lies outside."""
    root = plan.inspection.root
    return path.relative_to(root).as_posix() if path.is_relative_to(root) else str(path)


def _asset_files(plan: Plan) -> dict[str, AssetFile]:
    """What goes along with all sequences. Raises Refusal where two want different files in one place."""
    files: dict[str, AssetFile] = {}
    for one in plan.sequences:
        for place, file in one.assets.files().items():
            other = files.setdefault(place, file)
            if other == file:
                continue
            if other.sources != file.sources or (other.content is not None and file.content is not None):
                raise Refusal(f"{Name.from_path(place)}: two sequences need different files in this place")
            # One sequence repairs the library that the other takes as it is: the repaired one serves both.
            files[place] = other if file.content is None else file
    return files


def _refuse_collisions(jobs: list[Job], staging: Staging) -> None:
    by_name: dict[str, set[str]] = {}
    for job in jobs:
        alike = by_name.setdefault(fold(os.fsencode(job.path)), set())
        if job.path in alike:
            raise Refusal(
                f"{Name.from_path(job.path)}: two files would get this name; give each sequence a folder of its own"
            )
        alike.add(job.path)
    for alike in by_name.values():
        if len(alike) > 1 and not staging.tells_case_apart():
            names = " and ".join(str(Name.from_path(path)) for path in sorted(alike))
            where = Name.from_path(staging.out.parent)
            raise Refusal(f"{names}: the file system of {where} takes these for one name; write to another")
