"""Numbers that other readers may misread, because they are in a rare form or too large for single precision."""

from __future__ import annotations

from collections.abc import Iterator

from inspector import limits
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, problem_findings, usable_where
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    yield from problem_findings(context, CHECK.id, ("odd-number",), Severity.NOTE)
    beyond = usable_where(
        context, lambda facts: facts.box is not None and max(map(abs, facts.box)) > limits.SINGLE_LARGEST.value
    )
    if beyond:
        largest = max(abs(side) for index in beyond for side in context.series.facts[index].box or ())
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            f"a coordinate of {largest:.3g} is too large for single precision",
            context.numbers(beyond),
            files(context, beyond),
            {"kind": "beyond-single", "largest": largest},
            CHECK.fixes,
        )


CHECK = Check(
    id="number-forms",
    title="Numbers that may be misread",
    severity=Severity.ERROR,
    needs=(Trait.STATEMENTS,),
    rationale=Rationale(
        what="Some numbers are written in a rare form (+1, .5, 5., 007), or are too large for single precision. Most "
        "readers store positions in single precision.",
        after_import="Some readers read a number in a rare form as 0, or refuse the file. A number that is too large "
        "becomes infinite, so the object vanishes.",
        what_to_do="A rare form is not an error, so change the numbers only if the import goes wrong. Numbers that "
        "are too large usually come from a simulation that blew up. In that case, export the frame again, or let the "
        "fix estimate it from its neighbours.",
    ),
    run=run,
    fixes=("fill-frames",),
    thresholds=(limits.SINGLE_LARGEST,),
)
