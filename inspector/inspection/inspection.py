"""A folder -> everything the tool can say about it. The one way that every face takes."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from inspector.checks.base.check import Scope as CheckScope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.registry import all_checks
from inspector.checks.base.runner import Verdict, run_checks
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.sequence.discovery.animations import describe
from inspector.sequence.discovery.discover import Discovery, FrameFile, discover
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.not_a_sequence import why_no_sequence
from inspector.sequence.discovery.receipt_marks import ReceiptMarks, read_marks
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.run.executors import Executor
from inspector.sequence.run.scan import Cancel, load_file, never
from inspector.sequence.series import Series, build_series, choose_reference

Progress = Callable[[FrameSequence, FrameFacts], None]
"""Called after each frame of a scan, in the scanning thread."""


@dataclass(frozen=True)
class Inspection:
    """One sequence: what was measured, and what was found.

    Attributes:
        context: What the checks were given, with the sequence and its measured values.
        verdict: The findings, and the checks that were left out.

    Example:
        >>> one = inspect("harbour/manta").inspections[0]
        >>> len(one.sequence.files), one.findings
        (24, ())
    """

    context: CheckContext
    verdict: Verdict

    @property
    def series(self) -> Series:
        return self.context.series

    @property
    def sequence(self) -> FrameSequence:
        return self.context.series.sequence

    @property
    def findings(self) -> tuple[Finding, ...]:
        return self.verdict.findings


@dataclass(frozen=True, slots=True)
class NotASequence:
    """Numbered files that are no sequence, and why."""

    folder: Name
    pattern: Name
    count: int
    reason: str


@dataclass(frozen=True)
class FolderInspection:
    """A folder: its sequences, and what is none.

    Attributes:
        discovery: What was found in the folder.
        settings: What was stated about it.
        inspections: One for each sequence, in the order of discovery.
        not_sequences: Numbered files that are no sequence.

    Example:
        >>> found = inspect("harbour")
        >>> [str(one.sequence.stem) for one in found.inspections]
        ['buoy.', 'kelp_broken.', 'manta.', 'manta_broken.']
        >>> found.reaches(Severity.ERROR)
        True
    """

    discovery: Discovery
    settings: Settings
    inspections: tuple[Inspection, ...]
    not_sequences: tuple[NotASequence, ...]

    @property
    def root(self) -> Path:
        return self.discovery.root

    def count(self, severity: Severity) -> int:
        """Findings of that severity over all sequences."""
        return sum(finding.severity == severity for one in self.inspections for finding in one.findings)

    def reaches(self, level: Severity) -> bool:
        """Whether anything is as bad as `level`, or worse."""
        return any(finding.severity >= level for one in self.inspections for finding in one.findings)


@dataclass(frozen=True)
class Contents:
    """Where checks get what is in the files of a folder.

    Attributes:
        book: Resolves libraries, materials and maps.
        marks: What a receipt in the folder says of its frames.
        load: Reads the frame of a file.
    """

    book: MaterialResolver
    marks: ReceiptMarks
    load: Callable[[FrameFile], Frame] = load_file


def inspect_folder(
    root: Path,
    settings: Settings | None = None,
    progress: Progress | None = None,
    cancelled: Cancel = never,
    *,
    cache: FactsCache | None = None,
    executor: Executor | None = None,
) -> FolderInspection:
    """Discover, read, measure and check everything under `root`. The result is the same with any cache and executor.

    Raises MeshqcError for a folder that can't be opened, Cancelled when stopped.
    """
    discovery = discover(root)
    measured = measure_all(discovery.sequences, cache or FactsCache(None), executor, progress, cancelled)
    return check_folder(discovery, measured, settings or Settings())


def measure_all(
    sequences: Sequence[FrameSequence],
    cache: FactsCache,
    executor: Executor | None = None,
    progress: Progress | None = None,
    cancelled: Cancel = never,
) -> list[tuple[FrameSequence, tuple[FrameFacts, ...]]]:
    """The facts of all frames, in order. Raises Cancelled."""
    facts: list[dict[int, FrameFacts]] = [{} for _ in sequences]
    for number, index, one in collect(sequences, cache, executor, cancelled):
        facts[number][index] = one
        if progress is not None:
            progress(sequences[number], one)
    return [
        (sequence, tuple(mine[index] for index in range(len(sequence.files))))
        for sequence, mine in zip(sequences, facts, strict=True)
    ]


def build_all(
    measured: Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]], settings: Settings
) -> tuple[list[Series], list[NotASequence]]:
    """The sequences, and what is none. Raises MeshqcError where the stated reference can't be one."""
    parts: list[NotASequence] = []
    all_series: list[Series] = []
    for sequence, facts in measured:
        reason = why_no_sequence(facts)
        if reason is None:
            all_series.append(build_series(sequence, facts, settings.reference))
        else:
            parts.append(NotASequence(sequence.relative, sequence.pattern, len(facts), reason))
    return all_series, parts


def check_folder(
    discovery: Discovery,
    measured: Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]],
    settings: Settings,
    contents: Contents | None = None,
) -> FolderInspection:
    """Run all checks on what was measured; cheap, so that a change of settings need not scan again.

    contents: what the checks read of files; None: what is on the disk.
    """
    contents = contents or Contents(
        MaterialResolver(Scope(discovery.root, settings.textures)), read_marks(discovery.root)
    )
    marks = contents.marks
    settings = replace(settings, rate=settings.rate or marks.rate)
    all_series, parts = build_all(measured, settings)
    inspections = tuple(_check(series, all_series, settings, contents) for series in all_series)
    return FolderInspection(discovery, settings, inspections, (*parts, *_animations(discovery)))


def _animations(discovery: Discovery) -> Iterator[NotASequence]:
    """Files that hold a whole animation, with what is in them: they have to be unpacked to be judged."""
    for path in discovery.animations:
        folder = Name.from_path(path.parent.relative_to(discovery.root))
        yield NotASequence(folder, Name.from_path(path.name), 1, describe(path))


def first_look(
    discovery: Discovery,
    some: Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]],
    settings: Settings,
    scope: CheckScope,
) -> tuple[Inspection, ...]:
    """A first verdict while frames are still read. scope FRAME: on a few frames of each sequence, handed in, what each
    shows by itself and against the others. FILES: on the names of all, whose facts need say nothing yet."""
    book = MaterialResolver(Scope(discovery.root, settings.textures))
    checks = [check for check in all_checks() if check.scope is scope]
    looked = []
    for sequence, facts in some:
        if facts:
            series = Series(replace(sequence, files=tuple(one.file for one in facts)), facts, choose_reference(facts))
            context = CheckContext(series, settings, book)
            looked.append(Inspection(context, run_checks(context, checks)))
    return tuple(looked)


def _check(series: Series, everything: Sequence[Series], settings: Settings, contents: Contents) -> Inspection:
    siblings = tuple(other for other in everything if other is not series)
    context = CheckContext(series, settings, contents.book, siblings, contents.marks, load=contents.load)
    return Inspection(context, run_checks(context, all_checks()))
