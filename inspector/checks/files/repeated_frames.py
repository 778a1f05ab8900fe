"""Frame numbers with more than one file, and files that are named differently from the others."""

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
        what = f"{count_of(len(repeated), 'frame number')} {'has' if len(repeated) == 1 else 'have'} more than one file"
        yield _finding(context, "repeated", what, indices, CHECK.fixes)
    odd = [index for index, number in enumerate(numbers) if number not in repeated and not _in_form(context, index)]
    if odd:
        verb = "is" if len(odd) == 1 else "are"
        what = f"{count_of(len(odd), 'file')} {verb} not named like `{context.series.sequence.pattern.display}`"
        yield _finding(context, "mixed", what, odd, ("renumber",))


def _in_form(context: CheckContext, index: int) -> bool:
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
        f"{what}{', for example' if len(indices) > 2 else ':'} {examples}",
        numbers,
        places,
        {"kind": kind, "numbers": len(numbers)},
        fixes,
    )


CHECK = Check(
    id="repeated-frames",
    title="Repeated frame numbers or mixed file names",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Either two files have the same frame number, often because only one of the names has leading zeros, or "
        "some file names differ from the others in the number of digits or in the extension.",
        after_import="If two files have the same frame number, it depends on the reader which of them is shown. Files "
        "that are named differently from the rest of the sequence are often not found.",
        what_to_do="If the two files are identical, the fix `drop-repeated-frames` drops one of them. If they differ, "
        "keep only the file of the newer export. The fix `renumber` writes all file names in the same form.",
    ),
    run=run,
    fixes=("drop-repeated-frames", "renumber"),
    scope=CheckScope.FILES,
)
