"""Frame numbers that stand twice, or in two forms."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.evidence import Evidence
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import count_of


def run(evidence: Evidence) -> Iterator[Finding]:
    counts = Counter(file.number for file in evidence.series.sequence.files)
    repeated = tuple(sorted(number for number, count in counts.items() if count > 1))
    if not repeated:
        return
    places = [
        Where(evidence.file_name(index))
        for index, facts in enumerate(evidence.series.facts)
        if facts.number in repeated
    ]
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"{count_of(len(repeated), 'frame number')} with more than one file, "
        f"such as {' and '.join(f'`{place.file.display}`' for place in places[:2])}",
        repeated,
        tuple(places[:5]),
        {"numbers": len(repeated)},
        CHECK.fixes,
    )


CHECK = Check(
    id="repeated-frames",
    title="Repeated frame numbers",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="Two files claim the same frame number, often with and without leading zeros.",
        after_import="Which of the two is shown depends on the reader; frames may double or shift.",
        what_to_do="Keep one. If both are equal, the fix drops the repeat; otherwise decide which is the newer export.",
    ),
    run=run,
    fixes=("drop-repeats", "renumber"),
    scope=Scope.SEQUENCE,
)
