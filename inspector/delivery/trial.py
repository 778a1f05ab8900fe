"""Try a plan in memory, to find out what the checks would report about the corrected folder."""

from __future__ import annotations

import errno
import os
from collections import defaultdict
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from itertools import count
from pathlib import Path

from inspector.delivery.apply import Corrections, Sources
from inspector.delivery.plan import Plan, SequencePlan, asset_files, frame_path
from inspector.delivery.receipt import delivered_frames, settings_after
from inspector.errors import MeshqcError
from inspector.fixes.base.assets import AssetFile
from inspector.fixes.base.output_frames import OutputFrame
from inspector.formats.frame import Frame
from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import FrameReader
from inspector.inspection.inspection import Contents, FolderInspection, check_folder
from inspector.safe_open import read_place
from inspector.sequence.discovery.discover import Discovery, FrameFile, sorted_out
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.listing import Listing, MeshFile, mesh_suffix
from inspector.sequence.discovery.receipt_marks import ReceiptMarks
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.image_cache import ImageCache, ImageFacts
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.scan import Measurer

_FRAMES_KEPT = 4  # the frame that is measured, the previous frame, and two that a check compares


Tried = Callable[[int, int], None]
"""Progress callback: receives the number of frames tried so far and the total."""


def inspection_after(plan: Plan, tried: Tried | None = None) -> FolderInspection:
    """Inspect the folder that a plan would deliver, without writing anything.

    Only frames that the plan changes, and the frame after each of them, are measured again.

    Args:
        plan: The plan to try.
        tried: Called after each frame.

    Raises:
        MeshqcError: A source file has changed since the inspection.
        Refusal: Two sequences need different files at the same path.
    """
    return _Trial(plan).inspection(tried)


class _Trial:
    """The corrected folder, as if it had replaced the source folder."""

    def __init__(self, plan: Plan) -> None:
        self._plan = plan
        self._root = plan.inspection.discovery.root
        self._scope = PlannedScope(plan)
        sources = Sources(Scope(self._root, plan.inspection.settings.textures), {})
        self._outputs: dict[Path, tuple[SequencePlan, Corrections, OutputFrame]] = {}
        for one in plan.sequences:
            corrections = Corrections(one.inspection.series.facts, one.steps, sources)
            for output in one.outputs:
                self._outputs[self._root / frame_path(one, output)] = one, corrections, output
        self._frames = delivered_frames(plan)
        self._made = lru_cache(maxsize=_FRAMES_KEPT)(self._make)

    def inspection(self, tried: Tried | None) -> FolderInspection:
        discovery = self._discovery()
        total = sum(len(one.files) for one in discovery.sequences)
        done = count(1)

        def with_progress(facts: Iterator[FrameFacts]) -> Iterator[FrameFacts]:
            for one in facts:
                if tried is not None:
                    tried(next(done), total)
                yield one

        measured = [(one, tuple(with_progress(self._measured(one)))) for one in discovery.sequences]
        settings = settings_after(self._plan)
        marks = ReceiptMarks(
            {
                path.relative_to(self._root).as_posix(): output.made
                for path, (_, _, output) in self._outputs.items()
                if output.made is not None
            },
            settings.rate,
            delivered=True,
            frames=self._frames,
        )
        resolver = MaterialResolver(self._scope)
        resolver.images = _PlannedImages(self._scope)
        return check_folder(discovery, measured, settings, Contents(resolver, marks, self._load))

    def _discovery(self) -> Discovery:
        listings: defaultdict[Path, list[MeshFile]] = defaultdict(list)
        for path, (one, _, output) in self._outputs.items():
            file = one.inspection.series.facts[output.sources[0]].file
            name = os.fsencode(path.name)
            suffix = mesh_suffix(name)
            raw = os.fsencode(path)
            listings[path.parent].append(MeshFile(name[: -len(suffix)], suffix, raw, raw, file.state))
        return sorted_out(
            os.fsencode(self._root),
            [
                Listing(os.fsencode(folder), sorted(files, key=lambda file: file.path))
                for folder, files in sorted(listings.items())
            ],
            lambda: self._frames,
        )

    def _measured(self, sequence: FrameSequence) -> Iterator[FrameFacts]:
        measurer = Measurer(self._made)
        before: FrameFile | None = None
        for file in sequence.files:
            sized = self._sized(file)
            known = self._known(file, before)
            if known is None:
                known = measurer.facts(sized, None if before is None else self._sized(before))
            yield replace(known, file=sized, number=file.number)
            before = file
        measurer.close()

    def _known(self, file: FrameFile, before: FrameFile | None) -> FrameFacts | None:
        """Return the facts of a frame as measured in the source; None if the frame must be measured again.

        A readable frame must also be measured again if the plan changes or replaces the frame before it.
        """
        one, _, _ = self._outputs[file.path]
        index = self._as_in_source(file)
        if index is None:
            return None
        facts = one.inspection.series.facts
        if facts[index].readable and self._before(before, one) != (None if index == 0 else index - 1):
            return None
        return facts[index]

    def _before(self, before: FrameFile | None, plan: SequencePlan) -> int | None:
        """Return the index of the previous frame in the source; None if there is no previous frame.

        The index is -1 if that frame is changed by the plan or belongs to another sequence.
        """
        if before is None:
            return None
        index = self._as_in_source(before)
        return index if index is not None and self._outputs[before.path][0] is plan else -1

    def _as_in_source(self, file: FrameFile) -> int | None:
        one, corrections, output = self._outputs[file.path]
        facts = one.inspection.series.facts[output.sources[0]]
        copied = output.made is None and not corrections.changes(output) and facts.format == "obj"
        return output.sources[0] if copied else None

    def _sized(self, file: FrameFile) -> FrameFile:
        """Return the file with the size that it would have in the delivery."""
        return file if self._as_in_source(file) is not None else replace(file, size=len(self._made(file.path)))

    def _make(self, path: Path) -> bytes:
        _, corrections, output = self._outputs[path]
        return corrections.make(output).data

    def _load(self, file: FrameFile) -> Frame:
        try:
            return FrameReader().read(self._made(file.path), file.path, read_place)
        except UnreadableFrame as error:
            raise MeshqcError(f"{file.name}: {error.words}") from error


class PlannedScope(Scope):
    """A scope in which the source folder contains the files of the corrected folder. Other folders are unchanged."""

    def __init__(self, plan: Plan) -> None:
        inspection = plan.inspection
        super().__init__(inspection.root, inspection.settings.textures)
        self._source = Scope(inspection.root, inspection.settings.textures)
        self._planned = {self.roots[0] / place: file for place, file in asset_files(plan).items()}
        self._frames = {
            self.roots[0] / frame_path(one, output): AssetFile(
                (one.inspection.series.facts[output.sources[0]].file.path,)
            )
            for one in plan.sequences
            for output in one.outputs
        }

    def planned(self, path: Path) -> AssetFile | None:
        """Return the file that the plan puts at a path; None if there is no such file."""
        return self._planned.get(path) or self._frames.get(path)

    def place(self, path: Path) -> Path:
        """Return the path of a planned file's first source, with all links resolved.

        For a path outside the source folder, return the result of `Scope.place`.

        Raises:
            OSError: The path leads outside the roots, or the path is in the source folder but the plan puts no file
                with a source there.
        """
        file = self.planned(path)
        if file is not None and file.sources:
            return self._source.place(file.sources[0])
        if self._in_folder(path):
            raise OSError(errno.ENOENT, os.strerror(errno.ENOENT))
        return super().place(path)

    def read(self, path: Path) -> bytes:
        """Return the new content that the plan has for a path. If there is none, return the result of `Scope.read`."""
        file = self.planned(path)
        return file.content if file is not None and file.content is not None else super().read(path)

    def contains(self, path: Path) -> bool:
        return self._inside(path) if self._in_folder(path) else super().contains(path)

    def names_in(self, folder: Path) -> list[str]:
        """Return the sorted names of the planned files in a folder.

        For a folder outside the source folder, return the result of `Scope.names_in`.
        """
        if not self._in_folder(folder):
            return super().names_in(folder)
        return sorted(path.name for path in self._paths() if path.parent == folder)

    def _in_folder(self, path: Path) -> bool:
        return path.is_relative_to(self.roots[0])

    def _paths(self) -> Iterator[Path]:
        yield from self._planned
        yield from self._frames

    def _files(self) -> Iterator[Path]:
        yield from sorted(self._paths(), key=lambda path: (len(path.parts), path))
        yield from (path for path in super()._files() if not self._in_folder(path))

    def _is_regular(self, path: Path) -> bool:
        path = Path(os.path.normpath(path))
        return self.planned(path) is not None if self._in_folder(path) else super()._is_regular(path)


class _PlannedImages(ImageCache):
    """The images of the corrected folder. Images that a fix makes are not checked."""

    def __init__(self, scope: PlannedScope) -> None:
        super().__init__(scope)
        self._planned = scope

    def of(self, path: Path) -> ImageFacts:
        file = self._planned.planned(path)
        if file is not None and file.content is not None:
            return ImageFacts(unjudged="a fix creates it")
        return super().of(path)
