"""Frames with negative numbers, whose minus sign most readers don't recognise in a file name."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files
from inspector.sequence.discovery.discover import Sequence

_SIGNS = (b".-", b"_-", b" -")
"""Endings of file name stems in which the minus is the sign of the frame number, because it follows a separator. Any
other minus is itself a separator, as in manta-0001.obj (common practice, no source).
"""


def run(context: CheckContext) -> Iterator[Finding]:
    ours = context.series.sequence
    if not (ours.stem.raw.endswith(_SIGNS) and any(_goes_on(ours, one.sequence) for one in context.siblings)):
        return
    indices = list(range(len(context.series.facts)))
    which, has = f"`{ours.files[0].name}`", "has a minus sign before the frame number and is"
    if len(ours.files) > 1:
        which, has = (
            f"{count_of(len(ours.files), 'file')}, such as {which},",
            "have a minus sign before the frame number and are",
        )
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{which} {has} read as a separate sequence",
        context.numbers(indices),
        files(context, indices),
        {"files": len(ours.files)},
    )


def _goes_on(ours: Sequence, other: Sequence) -> bool:
    """Whether the other sequence has the same file names, but without the minus sign."""
    return other.folder == ours.folder and other.stem.raw == ours.stem.raw[:-1]


CHECK = Check(
    id="negative-frames",
    title="Negative frame numbers",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The frame numbers are negative, as in a pre-roll, so the file names have a minus sign before the number.",
        after_import="Most readers don't recognise a minus sign in a file name. The frames with negative numbers are "
        "lost, or appear as a separate sequence that plays backwards.",
        what_to_do="Shift the animation so that it starts at frame 0 or later (at 1001, for example), and export "
        "again.",
    ),
    run=run,
    scope=CheckScope.FILES,
)
