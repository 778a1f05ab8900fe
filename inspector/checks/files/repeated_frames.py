"""Frame numbers that occur more than once, and files whose names have a different form from the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files


def run(context: CheckContext) -> Iterator[Finding]:
    counts = Counter(file.number for file in context.series.sequence.files)
    repeated = {number for number, count in counts.items() if count > 1}
    numbers = [facts.number for facts in context.series.facts]
    if repeated:
        indices = [index for index, number in enumerate(numbers) if number in repeated]
        what = count_of(len(repeated), "frame number") + " with more than one file"
        yield _finding(context, "repeated", what, indices, CHECK.fixes)
    odd = [index for index, number in enumerate(numbers) if number not in repeated and not _in_form(context, index)]
    if odd:
        what = f"{count_of(len(odd), 'file')} not named like `{context.series.sequence.pattern.display}`"
        yield _finding(context, "mixed", what, odd, ("renumber",))


def _in_form(context: CheckContext, index: int) -> bool:
    """Whether the name of the frame's file has the sequence's padding and extension."""
    sequence, file = context.series.sequence, context.series.facts[index].file
    whole = b"%0*d." % (sequence.padding, int(file.number))
    return file.name.raw.startswith(sequence.stem.raw + whole) and file.name.raw.endswith(sequence.suffix.raw)


def _finding(context: CheckContext, kind: str, what: str, indices: list[int], fixes: tuple[str, ...]) -> Finding:
    numbers = context.numbers(indices)
    places = files(context, indices)
    examples = " and ".join(f"`{place.file.display}`" for place in places[:2])
    return Finding(
        CHECK.id,
        Severity.WARNING,
        f"{what}, such as {examples}",
        numbers,
        places,
        {"kind": kind, "numbers": len(numbers)},
        fixes,
    )


CHECK = Check(
    id="repeated-frames",
    title="Repeated or mixed frame numbers",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Two files have the same frame number, often one with leading zeros and one without; or some file names "
        "differ from the rest in their number of digits or in their extension.",
        after_import="Which of the two files is shown depends on the reader. Files whose names have a different form "
        "are often not found.",
        what_to_do="If the two files are identical, the fix drop-repeated-frames drops one of them. If they differ, "
        "keep the newer export. The fix renumber writes all numbers in the same form.",
    ),
    run=run,
    fixes=("drop-repeated-frames", "renumber"),
    scope=CheckScope.FILES,
)
