"""A sequence as rows, one for each frame file and one for each missing frame, with their findings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property

import numpy as np
import numpy.typing as npt

from inspector.checks.base.finding import Finding, Severity
from inspector.inspection.inspection import Inspection
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.frame_ranges import frame_ranges
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import Series

NOTHING = -1
"""The value that `SequenceView.worst` has for a row without findings."""

SHARED_SHARE = 0.9
"""A finding counts as shared by nearly all rows if at least this fraction of the rows has it."""

FEWEST_SHARING = 4
"""If a sequence has fewer rows than this, no finding counts as shared by nearly all rows."""


Place = tuple[Fraction, int]
"""Key of a row: a frame number, and the row's index among the rows with this number."""


def unread(file: FrameFile) -> FrameFacts:
    """Return a placeholder for the facts of a frame that has not been read."""
    return FrameFacts(file.number, file, readable=False, problems=())


def is_unread(facts: FrameFacts) -> bool:
    """Return whether these facts are a placeholder (`unread`)."""
    return not facts.readable and not facts.problems


@dataclass(frozen=True, slots=True)
class Row:
    """A frame as a row.

    Attributes:
        number: The frame number.
        at: Index of the frame in the facts; None for a frame without a file.
    """

    number: Fraction
    at: int | None


@dataclass(frozen=True, eq=False)
class SequenceView:
    """A sequence, as far as it has been read.

    Attributes:
        sequence: The files of the sequence.
        facts: Facts of all frames; a placeholder (`unread`) for each frame that has not been read.
        inspection: The inspection; None until all frames are checked.
    """

    sequence: FrameSequence
    facts: tuple[FrameFacts, ...] = ()
    inspection: Inspection | None = None
    _ranges: dict[int, str] = field(default_factory=dict, repr=False)

    @cached_property
    def read(self) -> int:
        """Number of frames that have been read."""
        return sum(not is_unread(one) for one in self.facts)

    @cached_property
    def was_read(self) -> npt.NDArray[np.bool_]:
        """Whether each row has a file that has been read, (rows,)."""
        return np.array([row.at is not None and not is_unread(self.facts[row.at]) for row in self.rows], bool)

    @property
    def series(self) -> Series | None:
        """The sequence over time; None until all frames are checked."""
        return self.inspection.series if self.inspection else None

    @property
    def findings(self) -> tuple[Finding, ...]:
        """The findings; empty until all frames are checked."""
        return self.inspection.findings if self.inspection else ()

    @cached_property
    def rows(self) -> tuple[Row, ...]:
        """The rows, sorted by frame number: one for each file, and one for each missing frame that a finding names."""
        rows = [Row(one.number, at) for at, one in enumerate(self.facts)]
        present = {one.number for one in self.facts}
        named = {number for finding in self.findings for number in finding.frames}
        absent = [Row(number, None) for number in named - present]
        return tuple(sorted(rows + absent, key=lambda row: float(row.number))) if absent else tuple(rows)

    @cached_property
    def rows_by_number(self) -> dict[Fraction, list[int]]:
        """The indices of the rows with each frame number."""
        rows: defaultdict[Fraction, list[int]] = defaultdict(list)
        for at, row in enumerate(self.rows):
            rows[row.number].append(at)
        return dict(rows)

    @cached_property
    def rows_by_finding(self) -> tuple[npt.NDArray[np.intp], ...]:
        """The indices, ascending, of the rows that each finding is about."""
        by_number = self.rows_by_number
        return tuple(
            np.array(sorted(row for number in finding.frames for row in by_number[number]), np.intp)
            for finding in self.findings
        )

    @cached_property
    def touching(self) -> dict[int, list[int]]:
        """For each row with findings, the indices of its findings, the worst first."""
        found: defaultdict[int, list[int]] = defaultdict(list)
        for at, rows in enumerate(self.rows_by_finding):
            for row in rows.tolist():
                found[row].append(at)
        return dict(found)

    @cached_property
    def worst(self) -> npt.NDArray[np.int8]:
        """The highest severity of each row's findings, (rows,); NOTHING for a row without findings."""
        worst = np.full(len(self.rows), NOTHING, np.int8)
        for finding, rows in zip(self.findings, self.rows_by_finding, strict=True):
            worst[rows] = np.maximum(worst[rows], finding.severity)
        return worst

    @cached_property
    def shared(self) -> frozenset[int]:
        """Indices of the findings that nearly all rows share. These are shown only once."""
        rows = len(self.rows)
        if rows < FEWEST_SHARING:
            return frozenset()
        return frozenset(at for at, own in enumerate(self.rows_by_finding) if len(own) >= SHARED_SHARE * rows)

    def share_words(self, findings: Collection[int]) -> str:
        """Return `every frame` if every frame that has a file has all of the given findings; otherwise, return `nearly
        every frame`."""
        fewest = min(sum(self.rows[row].at is not None for row in self.rows_by_finding[at]) for at in findings)
        return "every frame" if fewest >= len(self.facts) else "nearly every frame"

    @cached_property
    def apart(self) -> npt.NDArray[np.int8]:
        """The highest severity of each row's findings, (rows,), not counting findings that nearly all rows share;
        NOTHING for a row without other findings."""
        return self.apart_of(None)

    def apart_of(self, checks: Collection[str] | None) -> npt.NDArray[np.int8]:
        """Return the values of `apart`, computed only from the findings of `checks`; None stands for all checks."""
        worst = np.full(len(self.rows), NOTHING, np.int8)
        for at, (finding, rows) in enumerate(zip(self.findings, self.rows_by_finding, strict=True)):
            if at not in self.shared and (checks is None or finding.check in checks):
                worst[rows] = np.maximum(worst[rows], finding.severity)
        return worst

    @cached_property
    def ranked(self) -> tuple[int, ...]:
        """Indices of the findings: the most severe findings first and, among equally severe findings, the rarest first.
        Findings that nearly all rows share come last."""

        def rank(at: int) -> tuple[bool, int, int, int]:
            return at in self.shared, -self.findings[at].severity, len(self.rows_by_finding[at]), at

        return tuple(sorted(range(len(self.findings)), key=rank))

    @cached_property
    def _rank(self) -> dict[int, int]:
        return {at: place for place, at in enumerate(self.ranked)}

    def ranked_on_row(self, row: int) -> list[int]:
        """Indices of the findings about a row, in the order of `ranked`."""
        return sorted(self.on_row(row), key=self._rank.__getitem__)

    def worst_row(self) -> int | None:
        """The first row of the highest-ranked finding that names a frame; None if no finding names a frame."""
        return next((int(self.rows_by_finding[at][0]) for at in self.ranked if len(self.rows_by_finding[at])), None)

    def on_row(self, row: int) -> list[int]:
        """Return the indices of the findings about a row, the worst first."""
        return self.touching.get(row, [])

    def ranges(self, finding: int) -> str:
        """Format the frames of a finding as ranges, as in `1-4, 9`; "" if the finding names no frames."""
        if finding not in self._ranges:
            self._ranges[finding] = frame_ranges(self.findings[finding].frames, self.sequence.step)
        return self._ranges[finding]

    def compute(self) -> None:
        """Compute the slow cached properties in advance, so that no key press has to wait for them."""
        _ = self.read, self.worst, self.apart, self.ranked, self._rank, self.rows_by_number, self.touching
        for finding in range(len(self.findings)):
            self.ranges(finding)

    def row_of_number(self, number: Fraction) -> int:
        """Return the first row at or after a frame number; the last row if there is none."""
        return next((at for at, row in enumerate(self.rows) if row.number >= number), len(self.rows) - 1)

    def place_of(self, row: int) -> Place:
        """Return the key of a row, by which `row_at` finds the row in a later view of the sequence."""
        number = self.rows[row].number
        return number, self.rows_by_number[number].index(row)

    def row_at(self, place: Place) -> int | None:
        """Find the row of a key that an earlier view returned; None if the row no longer exists."""
        number, which = place
        rows = self.rows_by_number.get(number, [])
        return rows[which] if which < len(rows) else None

    def facts_of(self, row: int) -> FrameFacts | None:
        """Return the facts of the frame that a row shows; None if the frame has no file."""
        at = self.rows[row].at
        return None if at is None else self.facts[at]

    def centre_distance(self) -> npt.NDArray[np.float64]:
        """Return the distance of each frame's centre from the reference frame's centre, (files,).

        The unit is the diagonal of the reference frame's bounding box. NaN without a bounding box or a reference frame,
        or if the diagonal is 0.
        """
        series = self.series
        if series is None or series.reference_index is None:
            return np.full(len(self.facts), np.nan)
        diagonal = series.diagonals[series.reference_index]
        with np.errstate(over="ignore"):  # a distance beyond the range of float64 is shown as infinite
            return np.asarray(np.linalg.norm(series.drift, axis=1) / (diagonal if diagonal > 0 else np.nan))


def severity_of(worst: int) -> Severity | None:
    """Return the severity that a value of `SequenceView.worst` stands for; None for NOTHING."""
    return None if worst == NOTHING else Severity(worst)
