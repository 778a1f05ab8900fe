"""Frames outside the stated frame range."""

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
        raise NotApplicable("the frame range is a delivery rule, so the check `delivery-rules` judges it")
    facts = context.series.facts
    outside = [index for index, one in enumerate(facts) if not stated[0] <= one.number <= stated[1]]
    outside = context.unexplained(outside)
    if not outside:
        return
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{count_of(len(outside), 'frame')} {'is' if len(outside) == 1 else 'are'} outside the stated range "
        f"{frame_text(stated[0])}-{frame_text(stated[1])}",
        context.numbers(outside),
        files(context, outside),
        {"frames": len(outside)},
    )


CHECK = Check(
    id="frames-outside",
    title="Frames outside the stated range",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Some frame numbers are below or above the range that you stated.",
        after_import="Readers that import the whole folder show a longer animation than the shot.",
        what_to_do="If these frames are handles of the shot, include them in the stated range (--frames). Otherwise, "
        "move them to another folder.",
    ),
    run=run,
    scope=CheckScope.FILES,
    explained_by=("shifted-numbers",),
)
