"""Judge frames that arrive during an export, each by itself and in comparison with the reference frame."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.check import CheckScope
from inspector.checks.base.finding import Finding, Severity
from inspector.inspection.inspection import Inspection, first_look
from inspector.names import Name
from inspector.sequence.discovery.not_a_sequence import why_no_sequence
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.watch import FolderState

WATCH_SURE_SECONDS = 3.0
"""Seconds that an error must last before it may stop an export: longer than an exporter or a network disk pauses
(common practice, no source).
"""


@dataclass(frozen=True, slots=True)
class Arrival:
    """The new results for one frame.

    Attributes:
        file: Path of the frame's file, relative to the watched folder.
        facts: The facts of the frame.
        findings: Errors and warnings that were not reported for this frame before, worst first.
        new: Whether the frame has just arrived or been rewritten. If False, a later frame has led to further findings
            in this frame.
    """

    file: Name
    facts: FrameFacts
    findings: tuple[Finding, ...]
    new: bool

    @property
    def errors(self) -> tuple[Finding, ...]:
        """The findings that are errors."""
        return tuple(finding for finding in self.findings if finding.severity is Severity.ERROR)

    @property
    def is_error(self) -> bool:
        """Whether there is an error among the findings."""
        return bool(self.errors)


class Arrivals:
    """Judges the frames of a watched folder, and reports each error or warning of a frame once, and again after the
    frame is rewritten.

    Only checks of frame scope (CheckScope.FRAME) are run. They don't find gaps, jumps or other faults of a whole
    sequence.
    """

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._looked: tuple[FolderState, tuple[Inspection, ...]] | None = None
        self._reported: dict[Path, set[tuple[str, object]]] = {}

    def take(self, look: FolderState) -> list[Arrival]:
        """Return the new results of one scan of the folder: one for each frame that arrived, and one for each earlier
        frame with further findings.
        """
        if not look.arrived:
            return []
        arrived = {facts.file.path for facts in look.arrived}
        for path in arrived:  # a rewritten frame is judged again
            self._reported.pop(path, None)
        return [arrival for one in self.looked(look) for arrival in self._news(one, arrived)]

    def looked(self, look: FolderState) -> tuple[Inspection, ...]:
        """Run the checks of frame scope on all frames of one scan of the folder.

        Returns:
            One inspection per sequence. Numbered files that don't make a sequence are left out.
        """
        if self._looked is None or self._looked[0] is not look:
            sequences = [(sequence, facts) for sequence, facts in look.measured if why_no_sequence(facts) is None]
            self._looked = look, first_look(look.discovery, sequences, self._settings, CheckScope.FRAME)
        return self._looked[1]

    def _news(self, one: Inspection, arrived: set[Path]) -> Iterator[Arrival]:
        of_frame: dict[Fraction, list[Finding]] = {}
        for finding in one.findings:
            if finding.severity > Severity.NOTE:
                for number in finding.frames:
                    of_frame.setdefault(number, []).append(finding)
        for index, facts in enumerate(one.series.facts):
            reported = self._reported.setdefault(facts.file.path, set())
            findings = tuple(finding for finding in of_frame.get(facts.number, ()) if finding.cause not in reported)
            reported.update(finding.cause for finding in findings)
            new = facts.file.path in arrived
            if new or findings:
                yield Arrival(one.context.file_name(index), facts, findings, new)


class Doubts:
    """Holds back results with errors for WATCH_SURE_SECONDS. If the exporter only paused in the middle of a file, the
    file soon changes, and is judged again.
    """

    def __init__(self) -> None:
        self._since: dict[Path, list[tuple[float, Arrival]]] = {}

    def take(self, news: Iterable[Arrival], now: float) -> list[Arrival]:
        """Add new results, and return all results whose errors have lasted long enough to stop an export.

        Args:
            news: The new results of the last scan of the folder.
            now: The current time, in seconds.

        Returns:
            The results, grouped by frame. A frame may have several results, because later frames can lead to further
            errors.
        """
        for arrival in news:
            path = arrival.facts.file.path
            if arrival.new:
                self._since.pop(path, None)
            if arrival.is_error:
                self._since.setdefault(path, []).append((now, arrival))
        reported = (one for several in self._since.values() for one in several)
        return [one for since, one in reported if now - since >= WATCH_SURE_SECONDS]
