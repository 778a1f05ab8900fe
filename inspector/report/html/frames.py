"""The table of all frames, from which the readout of the plots takes its values."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np

from inspector.checks.base.registry import check_by_id
from inspector.report.html.columns import PageColumn
from inspector.report.html.elements import Element, el
from inspector.report.html.gather import Shown
from inspector.report.html.plots import Axis
from inspector.sequence.discovery.settings import frame_text


def frame_table(shown: Shown, columns: Sequence[PageColumn], axis: Axis) -> Element:
    """The table: one row per frame with its number, file, columns and findings. `data-x` is its position in the plots.

    Args:
        shown: The sequence.
        columns: The columns.
        axis: The horizontal axis of the plots.
    """
    heads = ["frame", "file", *(column.title for column in columns), "findings"]
    rows = [_row(shown, columns, row, x) for row, x in enumerate(axis.x.tolist())]
    table = el(
        "table",
        el("thead", el("tr", [el("th", head, scope="col") for head in heads])),
        el("tbody", rows),
    )
    label = f"all frames of {shown.title}"
    return el("div", table, class_="wide", tabindex="0", role="group", aria_label=label)


def _row(shown: Shown, columns: Sequence[PageColumn], row: int, x: float) -> Element:
    view = shown.view
    at = view.rows[row].at
    number = frame_text(view.rows[row].number)
    file = "no file" if at is None else shown.inspection.context.file_name(at).display
    cells = [el("td", _cell(column, row)) for column in columns]
    head = el("th", number, scope="row")
    return el("tr", head, el("td", file), cells, el("td", list(_links(shown, row))), data_x=f"{x:.1f}")


def _cell(column: PageColumn, row: int) -> Element | str:
    """The value as it is shown, with all its digits for programs."""
    value = float(column.values[row])
    return el("data", column.text(row), value=repr(value)) if np.isfinite(value) else column.text(row)


def _links(shown: Shown, row: int) -> Iterator[Element | str]:
    for place, at in enumerate(shown.view.on_row(row)):
        finding = shown.view.findings[at]
        said = f"{finding.severity.sign} {check_by_id(finding.check).title}"
        yield "; " if place else ""
        yield el("a", said, href=f"#{shown.key}-f{at + 1}")
