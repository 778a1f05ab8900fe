"""Frames that a fix estimated or held in an earlier delivery."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of
from inspector.checks.base.made_frames import made_frames
from inspector.names import joined_words

_WAYS = {"blend": "blended from their neighbours", "hold": "copies of their neighbours"}


def run(context: CheckContext) -> Iterator[Finding]:
    made = made_frames(context)
    if made:
        ways = sorted({context.marks.invented[context.file_name(index).text] for index in made})
        how = joined_words([_WAYS.get(way, "in an unknown way") for way in ways], "or")
        yield Finding(
            CHECK.id,
            Severity.NOTE,
            f"{count_of(len(made), 'frame')} made by a fix ({how}), according to the receipt",
            context.numbers(made),
            numbers={"frames": len(made)},
        )


CHECK = Check(
    id="estimated-frames",
    title="Frames made by a fix",
    severity=Severity.NOTE,
    rationale=Rationale(
        what="A fix made these frames from neighbouring frames, because frames were missing or damaged, or because the "
        "frame rate was changed.",
        after_import="The motion on these frames is an estimate, and may differ slightly from the true motion.",
        what_to_do="If the true frames are exported later, apply the fixes to that export instead of using this "
        "folder.",
    ),
    run=run,
    fixes=(),
    scope=CheckScope.SEQUENCE,
)
