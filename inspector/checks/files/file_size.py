"""Sequences whose files are far larger than necessary."""

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
    "A sequence is reported only if the total size of its files is at least this value. Smaller sequences are not "
    "reported, because copying them takes no more than about a second.",
    unit="bytes",
    settable=True,
)

WASTE_SHARE = Threshold(
    "waste-share",
    0.8,
    "A sequence is reported only if its files could be reduced to at most this share of their size. A smaller "
    "reduction is not reported, because saving less than a fifth of the size is not worth a note.",
    settable=True,
)

SINGLE_DIGITS = Threshold(
    "single-digits",
    9,
    "Number of significant decimal digits that identify every single-precision number (IEEE 754, binary32). Readers "
    "ignore further digits.",
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
        "nothing moves, so a single frame shows everything"
        if still
        else "the numbers have more digits than single precision can store"
    )
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        f"the files take up {total / 1e6:,.0f} MB, but {needed / 1e6:,.0f} MB would be enough: {why}",
        context.numbers(usable(context)),
        numbers={"bytes": total, "needed": needed},
        fixes=() if still else CHECK.fixes,
    )


def _spare_digits(facts: FrameFacts) -> int:
    """Estimate how many bytes the positions of a frame use for digits that single precision can't store.

    The result is 0 if the frame has no bounding box, or if the number of decimal places varies or is unknown.
    """
    if facts.box is None or facts.fixed_decimals is None:
        return 0
    whole = len(f"{max(map(abs, facts.box)):.0f}")
    return 3 * facts.vertices * max(0, facts.fixed_decimals - max(0, SINGLE_DIGITS.value - whole))


CHECK = Check(
    id="file-size",
    title="Files larger than necessary",
    severity=Severity.NOTE,
    needs=(Trait.STATEMENTS,),
    rationale=Rationale(
        what="Every frame repeats a mesh that doesn't move, or the numbers have more digits than readers use.",
        after_import="Loading and playback are slow. The picture is not affected.",
        what_to_do="If the object doesn't move, export a single frame. If it moves, export numbers with six to nine "
        "significant digits.",
    ),
    run=run,
    fixes=("reduce-decimals",),
    scope=CheckScope.SEQUENCE,
    thresholds=(WASTE_BYTES, WASTE_SHARE, SINGLE_DIGITS),
)
