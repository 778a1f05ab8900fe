"""Inspect a folder: find its sequences, measure them and run all checks. Every interface uses this module."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from inspector.checks.base.check import CheckScope
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
from inspector.sequence.discovery.receipt_file import stated_frames
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
"""Called in the scanning thread after each frame, with the frame's sequence and facts."""


@dataclass(frozen=True)
class Inspection:
    """One sequence with its measured values and findings.

    Attributes:
        context: The input of the checks: the sequence and its measured values.
        verdict: The findings, and the checks that were skipped or failed.

    Example:
        >>> one = inspect("harbour/manta").inspections[0]
        >>> len(one.sequence.files), one.findings
        (24, ())
    """

    context: CheckContext
    verdict: Verdict

    @property
    def series(self) -> Series:
        """The sequence's measured values."""
        return self.context.series

    @property
    def sequence(self) -> FrameSequence:
        """The sequence's files."""
        return self.context.series.sequence

    @property
    def findings(self) -> tuple[Finding, ...]:
        return self.verdict.findings


@dataclass(frozen=True, slots=True)
class NotASequence:
    """A scene file, or numbered files that don't form a sequence.

    Attributes:
        folder: The folder of the files, relative to the inspected folder.
        pattern: The pattern of the file names; for a scene file, its name.
        count: The number of files.
        reason: The reason why the files don't make a sequence; for a scene file, a description of its content.
    """

    folder: Name
    pattern: Name
    count: int
    reason: str


@dataclass(frozen=True)
class FolderInspection:
    """The inspection of a folder: its sequences, and other files that may contain frames.

    Attributes:
        discovery: The sequences and other files found in the folder.
        settings: The user's statements about the folder.
        inspections: One inspection for each sequence, in the order of discovery.
        not_sequences: Scene files, and numbered files that don't form a sequence.

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
        """Count the findings of the given severity in all sequences."""
        return sum(finding.severity == severity for one in self.inspections for finding in one.findings)

    def reaches(self, level: Severity) -> bool:
        """Return whether any finding has at least the given severity."""
        return any(finding.severity >= level for one in self.inspections for finding in one.findings)


@dataclass(frozen=True)
class Contents:
    """The sources of file contents for checks.

    Attributes:
        resolver: Resolves libraries, materials and maps.
        marks: The statements of the folder's receipt about the frames.
        load: Reads the frame in a file.
    """

    resolver: MaterialResolver
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
    """Discover, read, measure and check everything in a folder. The cache and the executor don't change the result.

    Args:
        root: The folder.
        settings: The user's statements about the folder; None if there are none.
        progress: Called after each frame.
        cancelled: Returns whether to stop.
        cache: Measurements of earlier runs; None for no cache.
        executor: Measures the frames; None to choose an executor that fits the work.

    Raises:
        MeshqcError: The folder can't be read, or the frame stated in `settings` can't be the reference frame.
        Cancelled: The work was stopped.
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
    """Measure all frames of some sequences.

    Args:
        sequences: The sequences.
        cache: Measurements of earlier runs.
        executor: Measures the frames; None to choose an executor that fits the work.
        progress: Called after each frame.
        cancelled: Returns whether to stop.

    Returns:
        The sequences in the given order, each with the facts of its frames in the order of the frames.

    Raises:
        Cancelled: The work was stopped.
    """
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
    measured: Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]], settings: Settings, marks: ReceiptMarks
) -> tuple[list[Series], list[NotASequence]]:
    """Build the series of all sequences. List separately the numbered files that don't make a sequence.

    Args:
        measured: Sequences with the facts of their frames.
        settings: The user's statements; they may state the reference frame.
        marks: The statements of the folder's receipt. If there is a receipt, all numbered files count as frames, with
            the frame numbers of the receipt.

    Raises:
        MeshqcError: The frame stated in `settings` can't be the reference frame.
    """
    parts: list[NotASequence] = []
    all_series: list[Series] = []
    for sequence, facts in measured:
        reason = None if marks.delivered else why_no_sequence(facts)
        if reason is None:
            all_series.append(build_series(marks.with_stated(sequence), facts, settings.reference))
        else:
            parts.append(NotASequence(sequence.relative, sequence.pattern, len(facts), reason))
    return all_series, parts


def check_folder(
    discovery: Discovery,
    measured: Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]],
    settings: Settings,
    contents: Contents | None = None,
) -> FolderInspection:
    """Run all checks on the measured values, which stay valid when the settings change.

    Args:
        discovery: The sequences and other files found in the folder.
        measured: The sequences with the facts of their frames.
        settings: The user's statements about the folder.
        contents: The sources of file contents; None to read from disk.

    Raises:
        MeshqcError: The frame stated in `settings` can't be the reference frame.
    """
    contents = contents or Contents(
        MaterialResolver(Scope(discovery.root, settings.textures)), read_marks(discovery.root)
    )
    marks = contents.marks
    settings = replace(settings, rate=settings.rate or marks.rate)
    all_series, parts = build_all(measured, settings, marks)
    inspections = tuple(_check(series, all_series, settings, contents) for series in all_series)
    return FolderInspection(discovery, settings, inspections, (*parts, *_animations(discovery)))


def _animations(discovery: Discovery) -> Iterator[NotASequence]:
    """Yield a `NotASequence` for each scene file, with a description of the file's content as its reason."""
    for path in discovery.animations:
        folder = Name.from_path(path.parent.relative_to(discovery.root))
        yield NotASequence(folder, Name.from_path(path.name), 1, describe(path))


def first_look(
    discovery: Discovery,
    some: Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]],
    settings: Settings,
    scope: CheckScope,
) -> tuple[Inspection, ...]:
    """Run the checks of one scope while frames are still being read.

    Args:
        discovery: The sequences and other files found in the folder.
        some: Each sequence with the facts of its frames. If the scope is FRAME, these are the frames that have been
            read; if it is FILES, all frames, although only their numbers and files are used.
        settings: The user's statements about the folder.
        scope: FRAME for the checks of each frame by itself or against the reference frame; FILES for the checks of file
            names and frame numbers.

    Returns:
        One inspection for each sequence that has facts.
    """
    resolver = MaterialResolver(Scope(discovery.root, settings.textures))
    checks = [check for check in all_checks() if check.scope is scope]
    marks = ReceiptMarks(frames=stated_frames(discovery.root) if scope is CheckScope.FILES else {})
    looked = []
    for sequence, facts in some:
        if facts:
            files = tuple(one.file for one in facts)
            series = Series(marks.with_stated(replace(sequence, files=files)), facts, choose_reference(facts))
            context = CheckContext(series, settings, resolver)
            looked.append(Inspection(context, run_checks(context, checks)))
    return tuple(looked)


def _check(series: Series, everything: Sequence[Series], settings: Settings, contents: Contents) -> Inspection:
    siblings = tuple(other for other in everything if other is not series)
    context = CheckContext(series, settings, contents.resolver, siblings, contents.marks, load=contents.load)
    return Inspection(context, run_checks(context, all_checks()))
