"""Write the facts of every frame as comma-separated values (RFC 4180), for a spreadsheet.

An apostrophe is put before `=`, `+`, `-` and `@` (also in their fullwidth forms) at the start of text and after a
semicolon, because some spreadsheets would read a formula there (OWASP, "CSV Injection", from memory). Tabs and line
ends are written as escapes, and numbers are written unchanged.
"""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

from inspector.names import safe
from inspector.report.formats import ReportFormat, Request

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection

_FORMULA = re.compile(r"(\A|[;\uff1b])(\s*[=+@\-\uff1d\uff0b\uff0d\uff20])")
_AXES = ("x", "y", "z")


def render(result: FolderInspection, _: Request) -> str:
    """Write a line of headings, then one line per frame with values from the JSON document.

    Null becomes an empty cell. Several names in a cell are separated by `; `. The column `findings` lists the checks
    that report the frame.
    """
    from inspector.report.document import folder_document

    rows = [row for sequence in _dicts(folder_document(result)["sequences"]) for row in _rows(sequence)]
    stream = io.StringIO()
    writer = csv.DictWriter(stream, _HEADINGS)
    writer.writeheader()
    writer.writerows({key: _cell(value) for key, value in row.items()} for row in rows)
    return stream.getvalue()


_COUNTS = ("vertices", "faces", "uvs", "normals", "objects")
_SPEEDS = ("mean", "fastest", "centre")
_HEADINGS = (
    *("folder", "sequence", "frame", "file", *_COUNTS, "materials", "libraries", "maps"),
    *(f"{end}_{axis}" for end in ("min", "max") for axis in _AXES),
    *(f"drift_{axis}" for axis in _AXES),
    *("drift_diagonals", "size_ratio", *(f"speed_{of}" for of in _SPEEDS), "bytes", "modified", "findings"),
)


def _rows(sequence: dict[str, Any]) -> Iterator[dict[str, object]]:
    found: defaultdict[float, dict[str, None]] = defaultdict(dict)  # frame -> checks without duplicates, worst first
    for finding in sequence["findings"]:
        for number in finding["frames"]:
            found[number][finding["check"]] = None
    for frame in sequence["frames"]:
        box = frame["box"] or {"min": [None] * 3, "max": [None] * 3}
        drift = frame["drift"] or {"centre": [None] * 3, "centre_diagonals": None, "size_ratio": None}
        yield {
            "folder": sequence["folder"],
            "sequence": sequence["pattern"],
            "frame": frame["frame"],
            "file": frame["file"],
            **{key: frame[key] for key in _COUNTS},
            "materials": frame["materials"],
            "libraries": [use["name"] for use in frame["libraries"]],
            "maps": [use["name"] for use in frame["maps"]],
            **{f"{end}_{axis}": at for end in ("min", "max") for axis, at in zip(_AXES, box[end], strict=True)},
            **{f"drift_{axis}": at for axis, at in zip(_AXES, drift["centre"], strict=True)},
            "drift_diagonals": drift["centre_diagonals"],
            "size_ratio": drift["size_ratio"],
            **{f"speed_{of}": frame["speed"][of] for of in _SPEEDS},
            "bytes": frame["bytes"],
            "modified": frame["modified"],
            "findings": list(found[frame["frame"]]),
        }


def _cell(value: object) -> object:
    """Convert a value to the content of a cell that is safe for screens and spreadsheets."""
    if isinstance(value, list):
        value = "; ".join(value)
    if not isinstance(value, str):
        return value
    return _FORMULA.sub(r"\1'\2", safe(value))


def _dicts(values: object) -> list[dict[str, Any]]:
    assert isinstance(values, list)
    return values


FORMAT = ReportFormat("csv", "the facts of every frame, for a spreadsheet", render, names_rules=False)
