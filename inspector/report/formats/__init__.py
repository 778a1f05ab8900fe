"""The formats of a report: one file per format, which defines FORMAT; this registry finds it.

A renderer imports what it needs when it runs, because `--help` lists the formats and has to be quick.
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
    """Progress that nobody sees."""


@dataclass(frozen=True, slots=True)
class Request:
    """How a report is wanted; each format takes what it needs.

    Attributes:
        folder: the inspected folder as the user named it.
        fail_on: the severity from which a finding is a failure, None for never.
        style: width, colour and characters of text for people.
        next_steps: lines that say what to run next.
        progress: called with a sequence, what is being done, and how much of how much is done.
    """

    folder: Path
    fail_on: Severity | None = Severity.ERROR
    style: TextStyle = field(default_factory=TextStyle)
    next_steps: Sequence[str] = ()
    progress: Callable[[Series, str, int, int], None] = no_progress


@dataclass(frozen=True, slots=True)
class ReportFormat:
    """One format.

    Attributes:
        id: the word of `--format`.
        help: for whom or what it is, a few words.
        render: the whole report as text, from an inspection.
        names_rules: whether the report names the delivery rules that applied; otherwise the command line does.
    """

    id: str
    help: str
    render: Callable[[FolderInspection, Request], str]
    names_rules: bool = True


@cache
def all_formats() -> dict[str, ReportFormat]:
    """Id -> format, by id."""
    found = [import_module(f"{__name__}.{one.name}").FORMAT for one in pkgutil.iter_modules(__path__)]
    return {one.id: one for one in sorted(found, key=lambda one: one.id)}
