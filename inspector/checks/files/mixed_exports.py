"""Frames whose header, number of decimal places or line endings differ from those of the other frames."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Hashable, Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.exports import SEAM_PAUSES, SEAM_SECONDS, leftovers
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files, usable
from inspector.formats.format import Trait
from inspector.sequence.measure.facts import FrameFacts

_DECIMALS = "decimals"
_SIGNS: dict[str, Callable[[FrameFacts], Hashable]] = {
    _DECIMALS: lambda facts: facts.fixed_decimals,
    "header": lambda facts: facts.header,
    "line endings": lambda facts: facts.line_end or None,
}


def run(context: CheckContext) -> Iterator[Finding]:
    signs: dict[tuple[int, ...], list[str]] = {}
    for sign, trait in _SIGNS.items():
        fewer = _fewer(context, trait)
        if fewer:
            signs.setdefault(fewer, []).append(sign)
    left = leftovers(context)
    for indices, names in signs.items():
        if left is not None and set(indices) <= set(left[0]):
            continue  # leftover-frames reports these frames, and explains the difference
        differ = "differs" if len(indices) == 1 else "differ"
        traits = " and ".join("the number of decimal places" if name == _DECIMALS else f"the {name}" for name in names)
        serious = _DECIMALS in names and len(names) > 1
        yield Finding(
            CHECK.id,
            Severity.WARNING if serious else Severity.NOTE,
            f"{count_of(len(indices), 'frame')} {differ} from the other frames in {traits}",
            context.numbers(list(indices)),
            files(context, indices),
            {"signs": ", ".join(names), "frames": len(indices)},
        )


def _fewer(context: CheckContext, trait: Callable[[FrameFacts], Hashable]) -> tuple[int, ...]:
    """Return the indices, ascending, of the frames that have the rarer of two values of a trait.

    None doesn't count as a value. The result is empty unless the trait has exactly two values. A trait with more values
    changes from frame to frame.
    """
    values = {index: trait(context.series.facts[index]) for index in usable(context)}
    counts = Counter(value for value in values.values() if value is not None)
    if len(counts) != 2:
        return ()
    rarer = counts.most_common()[1][0]
    return tuple(index for index, value in values.items() if value == rarer)


CHECK = Check(
    id="mixed-exports",
    title="Frames from two exports",
    severity=Severity.WARNING,
    needs=(Trait.STATEMENTS,),
    rationale=Rationale(
        what="Some frames differ from the others in their header, number of decimal places or line endings. They were "
        "probably written by a different program or version, on a different machine, or with different settings.",
        after_import="Often, nothing. However, the exports that the frames come from may show different states of the "
        "object, or the positions of one export may be rounded.",
        what_to_do="Play the frames before and after each switch from one export to another. If the object looks "
        "different there, export all frames again in a single export.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(SEAM_SECONDS, SEAM_PAUSES),
)
