"""Frames that arrive during an export, each with what it shows by itself and against those already there."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

from inspector.checks.base.check import Scope
from inspector.checks.base.finding import Finding, Severity
from inspector.inspection.inspection import Inspection, first_look
from inspector.names import Name
from inspector.sequence.discovery.not_a_sequence import why_no_sequence
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.watch import Look

WATCH_SURE_SECONDS = 3.0
"""Seconds that an error must last before a watch stops an export because of it: an exporter or a network disk that
pauses in the middle of a file continues sooner (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """file: relative to the watched folder. findings: errors and warnings that weren't told of this frame before,
    worst first. new: false for a frame that came earlier and about which a later one said more."""

    file: Name
    facts: FrameFacts
    findings: tuple[Finding, ...]
    new: bool

    @property
    def errors(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.severity is Severity.ERROR)

    @property
    def is_error(self) -> bool:
        return bool(self.errors)


class Arrivals:
    """Looks at a watched folder -> verdicts on its frames, each told once.

    Only checks of frame scope judge: what needs the whole sequence (gaps, jumps) is judged when it is there.
    """

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._looked: tuple[Look, tuple[Inspection, ...]] | None = None
        self._told: dict[Path, set[tuple[str, object]]] = {}

    def take(self, look: Look) -> list[Arrival]:
        """The frames that this look has news of: those that arrived, and earlier ones with further findings."""
        if not look.arrived:
            return []
        arrived = {facts.file.path for facts in look.arrived}
        for path in arrived:  # a frame that is written again is judged anew
            self._told.pop(path, None)
        return [arrival for one in self.looked(look) for arrival in self._news(one, arrived)]

    def looked(self, look: Look) -> tuple[Inspection, ...]:
        """What the checks of frame scope say of all frames of a look."""
        if self._looked is None or self._looked[0] is not look:
            sequences = [(sequence, facts) for sequence, facts in look.measured if why_no_sequence(facts) is None]
            self._looked = look, first_look(look.discovery, sequences, self._settings, Scope.FRAME)
        return self._looked[1]

    def _news(self, one: Inspection, arrived: set[Path]) -> Iterator[Arrival]:
        of_frame: dict[Fraction, list[Finding]] = {}
        for finding in one.findings:
            if finding.severity > Severity.NOTE:
                for number in finding.frames:
                    of_frame.setdefault(number, []).append(finding)
        for index, facts in enumerate(one.series.facts):
            told = self._told.setdefault(facts.file.path, set())
            findings = tuple(finding for finding in of_frame.get(facts.number, ()) if finding.cause not in told)
            told.update(finding.cause for finding in findings)
            new = facts.file.path in arrived
            if new or findings:
                yield Arrival(one.context.file_name(index), facts, findings, new)


class Doubts:
    """Frames with an error, until the error has stood for WATCH_SURE_SECONDS: a file that was only paused in the
    middle changes before, arrives again, and is judged again."""

    def __init__(self) -> None:
        self._since: dict[Path, list[tuple[float, Arrival]]] = {}

    def take(self, news: Iterable[Arrival], now: float) -> list[Arrival]:
        """The frames that an export is to be stopped for, in the order in which they came, after this news at the time
        `now`, seconds. A frame stands there once for each time that something was told of it."""
        for arrival in news:
            path = arrival.facts.file.path
            if arrival.new:
                self._since.pop(path, None)
            if arrival.is_error:
                self._since.setdefault(path, []).append((now, arrival))
        told = (one for several in self._since.values() for one in several)
        return [one for since, one in told if now - since >= WATCH_SURE_SECONDS]
