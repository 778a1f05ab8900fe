"""Sequences that are far larger than their motion needs."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import usable
from inspector.formats.format import Trait
from inspector.sequence.measure.facts import FrameFacts
from inspector.threshold import Threshold

WASTE_BYTES = Threshold(
    "waste-bytes",
    100_000_000,
    "Smallest size of a sequence that is reported. A smaller sequence is copied in about a second.",
    unit="bytes",
    settable=True,
)

WASTE_SHARE = Threshold(
    "waste-share",
    0.8,
    "A sequence is reported if its data would fit in this share of its size or less. Saving less than a "
    "fifth is not worth a note.",
    settable=True,
)

SINGLE_DIGITS = Threshold(
    "single-digits",
    9,
    "Number of significant digits that identify any single-precision value (IEEE 754, binary32). An import ignores "
    "further digits.",
    unit="digits",
)


def run(context: CheckContext) -> Iterator[Finding]:
    facts = [context.series.facts[index] for index in usable(context)]
    total = sum(one.file.size for one in facts)
    if total < context.limit(WASTE_BYTES):
        return
    still = len(facts) > 1 and all(one.still for one in facts[1:])
    needed = facts[0].file.size if still else total - sum(map(_spare_digits, facts))
    if needed > context.limit(WASTE_SHARE) * total:
        return
    why = (
        "nothing moves, so one frame is enough" if still else "the numbers have more digits than single precision holds"
    )
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        f"{total / 1e6:,.0f} MB where {needed / 1e6:,.0f} MB would do: {why}",
        context.numbers(usable(context)),
        numbers={"bytes": total, "needed": needed},
        fixes=() if still else CHECK.fixes,
    )


def _spare_digits(facts: FrameFacts) -> int:
    """Number of bytes that digits beyond single precision take up in the positions of a frame."""
    if facts.box is None or facts.fixed_decimals is None:
        return 0
    whole = len(f"{max(map(abs, facts.box)):.0f}")
    return 3 * facts.vertices * max(0, facts.fixed_decimals - max(0, SINGLE_DIGITS.value - whole))


CHECK = Check(
    id="file-size",
    title="Larger than the motion needs",
    severity=Severity.NOTE,
    needs=(Trait.STATEMENTS,),
    rationale=Rationale(
        what="The files repeat data that doesn't change, or have more digits than an import uses.",
        after_import="Loading and playback are slow. The picture is not affected.",
        what_to_do="If the object is still, export one frame. If it moves, export numbers with six to nine "
        "significant digits.",
    ),
    run=run,
    fixes=("reduce-decimals",),
    scope=CheckScope.SEQUENCE,
    thresholds=(WASTE_BYTES, WASTE_SHARE, SINGLE_DIGITS),
)
