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
    "Size above which a sequence takes a second or more to copy.",
    unit="bytes",
    settable=True,
)

WASTE_SHARE = Threshold(
    "waste-share",
    0.8,
    "Share of its size that a sequence may need at most to be reported: a saving of less than a fifth is not worth a "
    "note.",
    settable=True,
)

SINGLE_DIGITS = Threshold(
    "single-digits",
    9,
    "Significant digits that hold any value of single precision (IEEE 754, binary32); an import ignores further "
    "digits.",
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
    """Bytes of the positions' digits beyond those that single precision holds."""
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
        what="The files repeat what doesn't change, or carry digits that nobody can use.",
        after_import="Slow loading and playback, nothing else.",
        what_to_do="Export a still object as one frame. Six to nine digits per number are enough.",
    ),
    run=run,
    fixes=("reduce-decimals",),
    scope=CheckScope.SEQUENCE,
    thresholds=(WASTE_BYTES, WASTE_SHARE, SINGLE_DIGITS),
)
