"""Counts that should stay: one finding over all frames that differ from the reference."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from itertools import pairwise

from inspector.checks.base.check import Check
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, usable, usable_where
from inspector.sequence.measure.facts import FrameFacts

Count = Callable[[FrameFacts], int]


def changes_throughout(context: CheckContext, count: Count) -> bool:
    """Whether a changing count is how the mesh is made (a simulation): it differs between most neighbours, and no
    value holds for half of the frames. Of frames that fail here and there, most agree with the reference."""
    counts = [count(context.series.facts[index]) for index in usable(context)]
    if len(counts) < 2:
        return False
    changes = sum(before != after for before, after in pairwise(counts))
    commonest = Counter(counts).most_common(1)[0][1]
    return 2 * changes > len(counts) - 1 and 2 * commonest < len(counts)


def count_findings(context: CheckContext, check: Check, thing: str, count: Count) -> Iterator[Finding]:
    """Frames whose count differs. Where it changes throughout, a warning, and no frame is to blame."""
    base = count(base_facts(context))
    other = usable_where(context, lambda facts: count(facts) != base)
    if not other:
        return
    first = count(context.series.facts[other[0]])
    throughout = changes_throughout(context, count)
    message = f"{first:,} {thing} where the reference has {base:,}"
    if throughout:
        message = f"the number of {thing} changes throughout, as a simulation's does ({base:,} in the reference)"
    yield Finding(
        check.id,
        Severity.WARNING if throughout else Severity.ERROR,
        message,
        context.numbers(other),
        files(context, other),
        {"reference": base, "found": first},
        () if throughout else check.fixes,
    )
