"""Write the files of a plan into the staging folder."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path

from inspector.delivery.apply import Corrections, Sources
from inspector.delivery.journal import WrittenFile, sha256
from inspector.delivery.plan import Plan, asset_files, frame_path
from inspector.delivery.staging_folder import Staging
from inspector.errors import Cancelled, Refusal
from inspector.fixes.base.assets import AssetFile
from inspector.fixes.base.output_frames import OutputFrame
from inspector.names import Name
from inspector.sequence.discovery.scope import Scope, fold
from inspector.sequence.run.scan import Cancel


@dataclass(frozen=True)
class Job:
    """One file to write.

    Attributes:
        path: Path in the delivery.
        sources: The source files from which the file is made.
        make: Function that returns the content and the record of the file.
    """

    path: str
    sources: tuple[Path, ...]
    make: Callable[[], tuple[bytes, WrittenFile]]


@dataclass
class DeliveryWriter:
    """Writes the files of one delivery.

    Attributes:
        plan: The plan to carry out.
        staging: The staging folder.
        sources: The reader of the source files, which keeps the digests of all files that it reads.
    """

    plan: Plan
    staging: Staging
    sources: Sources = field(init=False)

    def __post_init__(self) -> None:
        resolvers = (one.inspection.context.resolver for one in self.plan.sequences)
        inspection = self.plan.inspection
        scope = Scope(inspection.root, inspection.settings.textures)
        self.sources = Sources(scope, {path: data for resolver in resolvers for path, data in resolver.as_read.items()})

    def run(self, progress: Callable[[int, int], None], cancelled: Cancel) -> list[WrittenFile]:
        """Write every file of the plan, unless an earlier run has already written it.

        Args:
            progress: Receives the number of files done and the total.
            cancelled: Returns whether to stop.

        Returns:
            The records of the files.

        Raises:
            MeshqcError: A source file has changed, or a frame can't be written.
            Refusal: Two files would get the same name, or names that the file system can't distinguish.
            OSError: A file can't be written. Finished files stay in the staging folder.
            Cancelled: The work was stopped. Finished files stay in the staging folder.
        """
        jobs = [*self._frames(), *self._assets_and_copies()]
        _refuse_collisions(jobs, self.staging)
        self.staging.keep_only({job.path for job in jobs})
        files = []
        for number, job in enumerate(jobs, 1):
            if cancelled():
                raise Cancelled("stopped, but finished files are kept; run the same command to resume")
            files.append(self._taken_over(job) or self._write(job))
            progress(number, len(jobs))
        self._read_the_rest()
        return files

    def _read_the_rest(self) -> None:
        """Read every source frame that can be opened, so that changes to replaced or dropped frames are detected
        too."""
        for one in self.plan.sequences:
            for facts in one.inspection.series.facts:
                if facts.readable or os.access(facts.file.path, os.R_OK):
                    self.sources.read_frame(facts.file)

    def _frames(self) -> Iterator[Job]:
        for one in self.plan.sequences:
            corrections = Corrections(one.inspection.series.facts, one.steps, self.sources)
            for output in one.outputs:
                paths = tuple(one.inspection.series.facts[index].file.path for index in output.sources)
                place = frame_path(one, output)
                yield Job(place, paths, partial(self._frame, corrections, output, place, paths))

    def _frame(
        self, corrections: Corrections, output: OutputFrame, place: str, paths: tuple[Path, ...]
    ) -> tuple[bytes, WrittenFile]:
        made = corrections.make(output)
        touches = tuple(sorted(keyword.decode() for keyword in made.touches))
        return made.data, WrittenFile(place, self._digests(paths), sha256(made.data), made.fixes, touches, output.made)

    def _assets_and_copies(self) -> Iterator[Job]:
        for place, file in asset_files(self.plan).items():
            yield Job(place, file.sources, partial(self._along, place, file))

    def _along(self, place: str, file: AssetFile) -> tuple[bytes, WrittenFile]:
        contents = [self.sources.read(path) for path in file.sources]
        data = contents[0] if file.content is None else file.content
        return data, WrittenFile(place, self._digests(file.sources), sha256(data))

    def _write(self, job: Job) -> WrittenFile:
        data, written = job.make()
        self.staging.write(data, written)
        return written

    def _taken_over(self, job: Job) -> WrittenFile | None:
        """Return the record of a file that an earlier run wrote; None if the file is missing, or if the file or one of
        its sources has changed."""
        written = self.staging.done(job.path)
        if written is None:
            return None
        for path in job.sources:
            self.sources.read(path)
        return written if written.sources == self._digests(job.sources) else None

    def _digests(self, paths: tuple[Path, ...]) -> tuple[tuple[str, str], ...]:
        return tuple((source_name(self.plan, path), self.sources.digests[path]) for path in paths)


def source_name(plan: Plan, path: Path) -> str:
    """Return the path by which the receipt names a file: relative if the file is in the source folder, otherwise
    absolute.

    Args:
        plan: The plan to carry out.
        path: The file.
    """
    root = plan.inspection.root
    return path.relative_to(root).as_posix() if path.is_relative_to(root) else str(path)


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
        if len(alike) > 1 and not staging.is_case_sensitive():
            names = " and ".join(str(Name.from_path(path)) for path in sorted(alike))
            where = Name.from_path(staging.out.parent)
            raise Refusal(
                f"{names}: the file system of {where} treats these names as the same; write to a different file system"
            )
