"""The formats of a report. Each module in this package defines one format as FORMAT.

Renderers import slow modules only when they run, so that `--help`, which lists the formats, is fast.
"""

from __future__ import annotations

import pkgutil
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from inspector.checks.base.finding import Severity
from inspector.report.text_style import TextStyle

if TYPE_CHECKING:
    from inspector.inspection.inspection import FolderInspection
    from inspector.sequence.series import Series


def no_progress(_series: Series, _doing: str, _done: int, _total: int) -> None:
    """Do nothing. This is the default progress callback."""


@dataclass(frozen=True, slots=True)
class Request:
    """The input of a report besides the inspection. A format may use only some of it.

    Attributes:
        folder: The inspected folder, as the user typed it.
        fail_on: The lowest severity at which a finding is a failure; None if no finding is a failure.
        style: The layout of the text.
        next_steps: Lines with commands to run next.
        progress: Called with a sequence, the current stage, the amount of work done, and the total amount.
    """

    folder: Path
    fail_on: Severity | None = Severity.ERROR
    style: TextStyle = field(default_factory=TextStyle)
    next_steps: Sequence[str] = ()
    progress: Callable[[Series, str, int, int], None] = no_progress


@dataclass(frozen=True, slots=True)
class ReportFormat:
    """One format of a report.

    Attributes:
        id: The value of `--format` that selects the format.
        help: Short description, for `--help`.
        render: Makes the whole report from an inspection.
        names_rules: Whether the report names the delivery rules that were applied; otherwise, the command prints them.
    """

    id: str
    help: str
    render: Callable[[FolderInspection, Request], str]
    names_rules: bool = True


@cache
def all_formats() -> dict[str, ReportFormat]:
    """Return all formats by id, in the order of their ids."""
    found = [import_module(f"{__name__}.{one.name}").FORMAT for one in pkgutil.iter_modules(__path__)]
    return {one.id: one for one in sorted(found, key=lambda one: one.id)}
