"""The columns of the frame table, and how the table is filtered and sorted."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.checks.base.finding import Severity
from inspector.checks.base.registry import check_by_id
from inspector.names import Name
from inspector.report.frame_rows import NOTHING, SequenceView, severity_of
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.styles import GOOD_SIGN, SHARED_SIGN


@dataclass(frozen=True)
class FrameValues:
    """The values that the columns show for one sequence.

    Attributes:
        view: The sequence.
    """

    view: SequenceView

    @cached_property
    def drift(self) -> npt.NDArray[np.float64]:
        """Distance of each frame's centre from that of the reference frame, (facts,), as a multiple of the reference
        frame's diagonal.

        Centres and diagonals are those of the bounding boxes. NaN if either box is missing, or if the diagonal is 0.
        """
        return self.view.centre_distance()

    @cached_property
    def size(self) -> npt.NDArray[np.float64]:
        """Diagonal of each frame's bounding box, relative to the reference frame's diagonal, (facts,).

        NaN for a frame without a bounding box. All values are NaN if the sequence has not been checked yet, if there is
        no reference frame, or if the reference frame's diagonal is 0.
        """
        series = self.view.series
        return np.full(len(self.view.facts), np.nan) if series is None else series.size_ratio

    def count(self, row: int, field: str) -> int | None:
        """Return a count from the facts of a frame; None if the frame is missing, can't be read or hasn't been read
        yet.

        Args:
            row: Row of the view.
            field: Name of a field of the facts. The field is the count itself, or a tuple whose length is the count.
        """
        facts = self.view.facts_of(row)
        if facts is None or not facts.readable:
            return None
        value = getattr(facts, field)
        return len(value) if isinstance(value, tuple) else int(value)

    def number(self, row: int, values: npt.NDArray[np.float64]) -> float:
        """Return a row's value from the values of the frames, (facts,); NaN if the row's frame is missing."""
        at = self.view.rows[row].at
        return math.nan if at is None else float(values[at])

    @cached_property
    def named(self) -> tuple[str, ...]:
        """The name of each finding in lists: the title of its check or, if the check has several findings, the message
        of the finding."""
        times = Counter(finding.check for finding in self.view.findings)
        return tuple(
            title_of(finding.check) if times[finding.check] == 1 else finding.message for finding in self.view.findings
        )

    def file(self, row: int) -> Name | None:
        """Return the file name of a row's frame; None if the frame is missing."""
        facts = self.view.facts_of(row)
        return None if facts is None else facts.file.name


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the frame table.

    Attributes:
        id: Id of the column in the saved state.
        title: Heading of the column.
        letter: The key that chooses the column in the sort drawer.
        meaning: Meaning of the column, for the sort drawer and the help page.
        text: Function that returns the column's text for a row.
        order: Function that returns the sort key of a row. Rows with lower keys come first, unless the order is
            reversed.
        narrow: Minimum width in cells.
        left: Whether the text is aligned to the left.
    """

    id: str
    title: str
    letter: str
    meaning: str
    text: Callable[[FrameValues, int], str]
    order: Callable[[FrameValues, int], Any]
    narrow: int = 0
    left: bool = False


def _counting(field: str, title: str, letter: str, meaning: str) -> Column:
    def text(values: FrameValues, row: int) -> str:
        count = values.count(row, field)
        return "-" if count is None else _short(count)

    def order(values: FrameValues, row: int) -> int:
        count = values.count(row, field)
        return -1 if count is None else count

    return Column(field, title, letter, meaning, text, order, narrow=len(title))


def _short(count: int) -> str:
    """Format a count in at most six characters, such as `999999`, `1234k` or `12.3M`."""
    if count < 1_000_000:
        return str(count)
    return f"{count // 1000}k" if count < 10_000_000 else f"{count / 1e6:.4g}M"


_MEASURE = 5


def _measure(value: float) -> str:
    """Format a non-negative number in at most _MEASURE characters; return `-` if it is not finite."""
    if not math.isfinite(value):
        return "-"
    for decimals in (3, 2, 0):
        if len(text := f"{value:.{decimals}f}") <= _MEASURE:
            return text
    return f"{value:.0e}".replace("e+0", "e").replace("e+", "e")


def _worst_text(values: FrameValues, row: int) -> str:
    view, places = values.view, values.view.ranked_on_row(row)
    if view.inspection is None:
        return ""
    is_reference = view.rows[row].at == view.inspection.series.reference_index is not None
    if not places:
        return f"{GOOD_SIGN} reference" if is_reference else GOOD_SIGN
    finding = view.findings[places[0]]
    if places[0] in view.shared:
        return f"{SHARED_SIGN} like {view.share_words(places)}{', reference' if is_reference else ''}"
    more = f" +{len(places) - 1}" if len(places) > 1 else ""
    return f"{finding.severity.sign} {values.named[places[0]]}{more}{', reference' if is_reference else ''}"


def title_of(check: str) -> str:
    """Return the title of a check.

    Raises:
        KeyError: The check doesn't exist.
    """
    return check_by_id(check).title


def _worst_order(values: FrameValues, row: int) -> tuple[int, int]:
    """Return a sort key that puts rows with the worst severity first. Findings that nearly every frame has are ignored.

    Among rows with the same severity, rows whose worst finding is on fewer rows come first.
    """
    view = values.view
    places = view.ranked_on_row(row)
    return -int(view.apart[row]), len(view.rows_by_finding[places[0]]) if places else 0


def _frame_text(values: FrameValues, row: int) -> str:
    return frame_text(values.view.rows[row].number)


def _frame_order(_: FrameValues, row: int) -> int:
    return row


def _file_text(values: FrameValues, row: int) -> str:
    name = values.file(row)
    return "(no file)" if name is None else name.display


def _file_order(values: FrameValues, row: int) -> bytes:
    name = values.file(row)
    return b"" if name is None else name.raw


def _last(value: float) -> float:
    return math.inf if math.isnan(value) else value


COLUMNS = (
    Column("frame", "frame", "f", "number in the file name", _frame_text, _frame_order, 5),
    Column(
        "file",
        "file",
        "i",
        "file name; a narrow table leaves out the part that all names share",
        _file_text,
        _file_order,
        9,
        left=True,
    ),
    _counting("vertices", "verts", "v", "number of vertices (v)"),
    _counting("faces", "faces", "a", "number of faces (f)"),
    _counting("uvs", "UVs", "u", "number of UV coordinates (vt)"),
    _counting("normals", "normals", "n", "number of normals (vn)"),
    _counting("materials", "mat", "m", "number of materials that the frame uses"),
    Column(
        "size",
        "size",
        "s",
        "diagonal of the bounding box, relative to the reference frame",
        lambda values, row: _measure(values.number(row, values.size)),
        lambda values, row: _last(values.number(row, values.size)),
        _MEASURE,
    ),
    Column(
        "drift",
        "drift",
        "d",
        "distance from the reference frame's centre, in bounding box diagonals",
        lambda values, row: _measure(values.number(row, values.drift)),
        lambda values, row: _last(values.number(row, values.drift)),
        _MEASURE,
    ),
    Column(
        "worst",
        "worst",
        "w",
        "the worst finding on the frame, and the number of further findings",
        _worst_text,
        _worst_order,
        28,
        left=True,
    ),
)
COLUMN_BY_ID = {column.id: column for column in COLUMNS}


@dataclass(frozen=True, slots=True)
class Filter:
    """A filter of the frame table.

    Attributes:
        id: Id of the filter in the saved state.
        words: Name of the filter in the drawer and above the table.
        least: Minimum severity of the frames that are shown (see SequenceView.worst); NOTHING to show all frames.
    """

    id: str
    words: str
    least: int


FILTERS = (
    Filter("all", "all frames", NOTHING),
    Filter("findings", "frames with findings", Severity.NOTE),
    Filter("warnings", "frames with warnings or errors", Severity.WARNING),
    Filter("errors", "frames with errors", Severity.ERROR),
)
FILTER_BY_ID = {one.id: one for one in FILTERS}


@dataclass(frozen=True, slots=True)
class Arrangement:
    """Filter and order of the frame table.

    Attributes:
        filter: Id of a filter.
        column: Id of the column to sort by.
        reverse: Whether the order is reversed.
        check: Id of a check, to show only the frames with its findings; empty to apply the filter.

    Raises:
        ValueError: The filter or the column doesn't exist, or the check is not a string.
        KeyError: The check doesn't exist.
    """

    filter: str = "all"
    column: str = "frame"
    reverse: bool = False
    check: str = ""

    def __post_init__(self) -> None:
        if self.filter not in FILTER_BY_ID or self.column not in COLUMN_BY_ID or not isinstance(self.check, str):
            raise ValueError("no such filter, column or check")
        if self.check:
            title_of(self.check)  # raises KeyError for a check of another version

    def by(self, column: str) -> Arrangement:
        """Return the arrangement, sorted by a column. If it is sorted by that column already, reverse the order."""
        return replace(self, column=column, reverse=not self.reverse if column == self.column else False)

    @property
    def words(self) -> str:
        """The filter and the order in words, such as `all frames, sorted by worst, reversed`."""
        order = ", reversed" if self.reverse else ""
        shown = f"only {title_of(self.check)}" if self.check else FILTER_BY_ID[self.filter].words
        return f"{shown}, sorted by {COLUMN_BY_ID[self.column].title}{order}"


def arrange(values: FrameValues, arrangement: Arrangement) -> list[int]:
    """Return the rows to show, in order. Rows with equal sort keys stay in frame order.

    Until the sequence is checked, all rows are shown.
    """
    least = FILTER_BY_ID[arrangement.filter].least if values.view.inspection else NOTHING
    rows: list[int] = np.flatnonzero(values.view.worst >= least).tolist()
    if arrangement.check and values.view.inspection:
        at = [at for at, finding in enumerate(values.view.findings) if finding.check == arrangement.check]
        rows = sorted({row for one in at for row in values.view.rows_by_finding[one].tolist()})
    if arrangement.column != "frame" or arrangement.reverse:
        order = COLUMN_BY_ID[arrangement.column].order
        rows.sort(key=lambda row: order(values, row), reverse=arrangement.reverse)
    return rows


def severity_on(view: SequenceView, row: int) -> Severity | None:
    """Return the worst severity of a row's findings, ignoring findings that nearly every frame has; None if the row has
    no other findings."""
    return severity_of(int(view.apart[row]))
