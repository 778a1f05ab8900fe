"""Report counts, such as the number of faces, that differ from the reference frame's but should be constant."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator
from itertools import pairwise

from inspector.checks.base.check import Check
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, plural_of, range_of, usable, usable_where
from inspector.sequence.measure.facts import FrameFacts

Count = Callable[[FrameFacts], int]


def changes_throughout(context: CheckContext, count: Count) -> bool:
    """Whether a count changes throughout the sequence, as in a simulation.

    It must differ between most neighbouring frames, and each value must occur on fewer than half of the frames.
    """
    counts = [count(context.series.facts[index]) for index in usable(context)]
    if len(counts) < 2:
        return False
    changes = sum(before != after for before, after in pairwise(counts))
    commonest = Counter(counts).most_common(1)[0][1]
    return 2 * changes > len(counts) - 1 and 2 * commonest < len(counts)


def mesh_changes_throughout(context: CheckContext) -> bool:
    """Whether the number of faces or vertices changes throughout the sequence, as in a simulation."""
    counts: tuple[Count, ...] = (lambda facts: facts.faces, lambda facts: facts.vertices)
    return any(changes_throughout(context, count) for count in counts)


def count_findings(context: CheckContext, check: Check, thing: str, count: Count) -> Iterator[Finding]:
    """Yield one finding about all frames whose count differs from the reference frame's, if there are any.

    If the count changes throughout, the finding is a note. Frames whose difference another check explains are left out.
    `thing` is the noun in the singular.

    Raises:
        NotApplicable: Every frame is empty or can't be read.
    """
    reference = base_facts(context)
    base = count(reference)
    other = context.unexplained(usable_where(context, lambda facts: count(facts) != base))
    if not other:
        return
    counts = [count(context.series.facts[index]) for index in other]
    throughout = changes_throughout(context, count)
    message = f"{range_of(counts, thing)}, but the reference frame has {base:,}{_consequences(context, other, thing)}"
    if throughout:
        message = (
            f"the number of {plural_of(thing)} changes throughout the sequence ({min(base, *counts):,} to "
            f"{max(base, *counts):,}), as in a simulation, so points can't be followed from frame to frame"
        )
    yield Finding(
        check.id,
        Severity.NOTE if throughout else Severity.ERROR,
        message,
        context.numbers(other),
        files(context, other),
        {"reference": base, "least": min(counts), "most": max(counts)},
        () if throughout else check.fixes,
    )


def _consequences(context: CheckContext, indices: list[int], thing: str) -> str:
    """Describe the counts, except that of `thing`, that differ between the given frames and the reference frame; "" if
    there are none."""
    base = context.series.reference_facts
    traits: list[tuple[str, Count]] = [
        ("face", lambda facts: facts.faces),
        ("connected component", lambda facts: facts.components),
        ("boundary edge", lambda facts: facts.boundary_edges),
    ]
    words = []
    for name, count in traits:
        counts = [count(context.series.facts[index]) for index in indices]
        if name != thing and any(value != count(base) for value in counts):
            words.append(f"{range_of(counts, name)} (reference frame: {count(base):,})")
    return f"; also {', '.join(words)}" if words else ""
