"""Frames outside the stated range."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files
from inspector.sequence.discovery.settings import frame_text


def run(context: CheckContext) -> Iterator[Finding]:
    stated = context.settings.expected
    if stated is None:
        raise NotApplicable("no frame range was stated (--frames)")
    if stated == context.settings.rules.frames:
        raise NotApplicable("the range comes from the delivery rules, so delivery-rules checks it")
    facts = context.series.facts
    outside = [index for index, one in enumerate(facts) if not stated[0] <= one.number <= stated[1]]
    outside = context.unexplained(outside)
    if not outside:
        return
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{count_of(len(outside), 'frame')} outside the stated range {frame_text(stated[0])}-{frame_text(stated[1])}",
        context.numbers(outside),
        files(context, outside),
        {"frames": len(outside)},
    )


CHECK = Check(
    id="frames-outside",
    title="Frames outside the stated range",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Some frames are before or after the range that you stated. If they are handles of the shot, include "
        "them in the stated range.",
        after_import="An import that takes the whole folder shows a longer animation than the shot has.",
        what_to_do="Correct the stated range (--frames), or move these frames to another folder.",
    ),
    run=run,
    scope=CheckScope.FILES,
    explained_by=("shifted-numbers",),
)
