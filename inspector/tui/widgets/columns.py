"""The columns of the frame table: what stands in them, and in what order they put the frames."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.checks.base.registry import check_by_id
from inspector.names import Name
from inspector.report.frame_rows import NOTHING, SequenceView, severity_of
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.styles import GOOD_SIGN


@dataclass(frozen=True)
class FrameValues:
    """Values behind the columns, worked out once for a view."""

    view: SequenceView

    @cached_property
    def drift(self) -> npt.NDArray[np.float64]:
        return self.view.centre_distance()

    @cached_property
    def size(self) -> npt.NDArray[np.float64]:
        series = self.view.series
        return np.full(len(self.view.facts), np.nan) if series is None else series.size_ratio

    def count(self, row: int, field: str) -> int | None:
        """A count of the facts; None for a frame that is missing or can't be read."""
        facts = self.view.facts_of(row)
        if facts is None or not facts.readable:
            return None
        value = getattr(facts, field)
        return len(value) if isinstance(value, tuple) else int(value)

    def number(self, row: int, values: npt.NDArray[np.float64]) -> float:
        at = self.view.rows[row].at
        return math.nan if at is None else float(values[at])

    def file(self, row: int) -> Name | None:
        facts = self.view.facts_of(row)
        return None if facts is None else facts.file.name


@dataclass(frozen=True, slots=True)
class Column:
    """text: what stands in a row. order: what rows are sorted by, ascending. narrow: cells that it needs at least."""

    title: str
    text: Callable[[FrameValues, int], str]
    order: Callable[[FrameValues, int], Any]
    narrow: int = 0
    left: bool = False


def _counting(title: str, field: str) -> Column:
    def text(values: FrameValues, row: int) -> str:
        count = values.count(row, field)
        return "-" if count is None else _short(count)

    def order(values: FrameValues, row: int) -> int:
        count = values.count(row, field)
        return -1 if count is None else count

    return Column(title, text, order, narrow=len(title))


def _short(count: int) -> str:
    """At most six characters: 999999, 1234k, 12.3M."""
    if count < 1_000_000:
        return str(count)
    return f"{count // 1000}k" if count < 10_000_000 else f"{count / 1e6:.4g}M"


def _measure(value: float) -> str:
    """At most five characters."""
    if not math.isfinite(value):
        return "-"
    if value < 100:
        return f"{value:.3f}" if value < 10 else f"{value:.2f}"
    return f"{value:.0f}" if value < 1e5 else f"{value:.0e}".replace("e+0", "e").replace("e+", "e")


def _worst_text(values: FrameValues, row: int) -> str:
    view, places = values.view, values.view.on_row(row)
    if view.inspection is None:
        return ""
    is_reference = view.rows[row].at == view.inspection.series.reference_index is not None
    if not places:
        return f"{GOOD_SIGN} reference" if is_reference else GOOD_SIGN
    finding = view.findings[places[0]]
    more = f" +{len(places) - 1}" if len(places) > 1 else ""
    return f"{finding.severity.sign} {title_of(finding.check)}{more}{', reference' if is_reference else ''}"


def title_of(check: str) -> str:
    """The title of a check, in plain words."""
    return check_by_id(check).title


def _frame_text(values: FrameValues, row: int) -> str:
    return frame_text(values.view.rows[row].number)


def _frame_order(_: FrameValues, row: int) -> int:
    return row


def _file_text(values: FrameValues, row: int) -> str:
    name = values.file(row)
    return "(no file)" if name is None else name.display


def _last(value: float) -> float:
    return math.inf if math.isnan(value) else value


COLUMNS = (
    Column("frame", _frame_text, _frame_order, 5),
    Column("file", _file_text, lambda values, row: name.raw if (name := values.file(row)) else b"", 9, left=True),
    _counting("verts", "vertices"),
    _counting("faces", "faces"),
    _counting("UVs", "uvs"),
    _counting("normals", "normals"),
    _counting("mat", "materials"),
    Column(
        "size",
        lambda values, row: _measure(values.number(row, values.size)),
        lambda values, row: _last(values.number(row, values.size)),
        5,
    ),
    Column(
        "drift",
        lambda values, row: _measure(values.number(row, values.drift)),
        lambda values, row: _last(values.number(row, values.drift)),
        5,
    ),
    Column("worst", _worst_text, lambda values, row: -int(values.view.worst[row]), 20, left=True),
)

FILTERS = (
    ("all frames", NOTHING),
    ("frames with findings", 0),
    ("frames with warnings or errors", 1),
    ("frames with errors", 2),
)
"""What the table can show: words, and the least severity (as in SequenceView.worst)."""


@dataclass(frozen=True, slots=True)
class Arrangement:
    """filter: a place in FILTERS; column: a place in COLUMNS; reverse: the other way round."""

    filter: int = 0
    column: int = 0
    reverse: bool = False

    def by(self, column: int) -> Arrangement:
        """Sorted by a column; by the one it is sorted by already: the other way round."""
        return replace(self, column=column, reverse=not self.reverse if column == self.column else False)

    @property
    def words(self) -> str:
        way = ", reversed" if self.reverse else ""
        return f"{FILTERS[self.filter][0]}, by {COLUMNS[self.column].title}{way}"


def arrange(values: FrameValues, arrangement: Arrangement) -> list[int]:
    """The rows to show, in the order to show them. Equal ones stay in frame order."""
    least = FILTERS[arrangement.filter][1] if values.view.inspection else NOTHING
    rows: list[int] = np.flatnonzero(values.view.worst >= least).tolist()
    if arrangement.column or arrangement.reverse:
        order = COLUMNS[arrangement.column].order
        rows.sort(key=lambda row: order(values, row), reverse=arrangement.reverse)
    return rows


def severity_on(view: SequenceView, row: int) -> Any:
    """The worst severity on a row, None without a finding."""
    return severity_of(int(view.worst[row]))
