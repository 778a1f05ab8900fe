"""Frames whose files changed during the inspection."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files


def run(context: CheckContext) -> Iterator[Finding]:
    growing = [index for index, facts in enumerate(context.series.facts) if facts.problem("still-written")]
    if growing:
        yield Finding(
            CHECK.id,
            Severity.WARNING,
            f"{count_of(len(growing), 'file')} changed size after the folder was listed",
            context.numbers(growing),
            files(context, growing),
            {"frames": len(growing)},
        )


CHECK = Check(
    id="still-written",
    title="Frame still being written",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The file grew or shrank while this tool read the folder, so an export or a copy is probably still "
        "running.",
        after_import="Depending on when the file is read, the mesh is incomplete or missing.",
        what_to_do="Wait until the export or the copy is done, and inspect the folder again. This frame was not "
        "checked.",
    ),
    run=run,
)
