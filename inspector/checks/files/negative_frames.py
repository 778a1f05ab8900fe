"""Frames numbered below 0, whose minus sign most readers of file names don't recognise."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files
from inspector.sequence.discovery.discover import Sequence

_SIGNS = (b".-", b"_-", b" -")
"""A separator and then a minus. A minus alone is a separator, as in manta-0001.obj (common practice, no source)."""


def run(context: CheckContext) -> Iterator[Finding]:
    ours = context.series.sequence
    if not (ours.stem.raw.endswith(_SIGNS) and any(_goes_on(ours, one.sequence) for one in context.siblings)):
        return
    indices = list(range(len(context.series.facts)))
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{count_of(len(ours.files), 'file')} with a minus sign before the frame number, such as "
        f"`{ours.files[0].name}`: read as a separate sequence",
        context.numbers(indices),
        files(context, indices),
        {"files": len(ours.files)},
    )


def _goes_on(ours: Sequence, other: Sequence) -> bool:
    """Whether the other sequence has the same file names without the minus sign, and so continues this sequence."""
    return other.folder == ours.folder and other.stem.raw == ours.stem.raw[:-1]


CHECK = Check(
    id="negative-frames",
    title="Frames below 0",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Frame numbers are below 0, as in a pre-roll: the file name has a minus sign before the number.",
        after_import="Most readers don't recognise a minus sign in a file name: these frames are lost, or appear as a "
        "separate sequence that plays backwards.",
        what_to_do="Shift the animation so that it starts at 0 or later (at 1001, for example), and export again.",
    ),
    run=run,
    scope=CheckScope.FILES,
)
