"""Make findings about faulty faces and normals, which were counted when the frames were measured."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, problem_places
from inspector.formats.problems import Problem


def faults(context: CheckContext, kind: str, frames: Iterable[int]) -> list[tuple[int, Problem]]:
    """Find the frames that have faults of one kind.

    Args:
        context: The sequence.
        kind: Kind of the faults, a key of problems.KINDS.
        frames: Indices of the frames to examine.

    Returns:
        A pair for each frame found: the index of the frame, and the faults of the frame.
    """
    found = ((index, context.series.facts[index].problem(kind)) for index in frames)
    return [(index, problem) for index, problem in found if problem is not None]


def fault_finding(
    context: CheckContext,
    check: str,
    severity: Severity,
    met: Sequence[tuple[int, Problem]],
    words: str,
    *,
    thing: str = "face",
    fixes: tuple[str, ...] = (),
) -> Finding:
    """Make one finding about all frames that have faults of one kind.

    `met` is the result of `faults`, and must not be empty. The message is `N faces WORDS`, or `up to N faces WORDS` if
    the number differs between the frames. `thing` is the singular of the noun that follows N.
    """
    most = max(problem.count for _, problem in met)
    least = min(problem.count for _, problem in met)
    upto = "up to " if most != least else ""
    return Finding(
        check,
        severity,
        f"{upto}{count_of(most, thing)} {words}",
        context.numbers([index for index, _ in met]),
        problem_places(context, met, thing),
        {"kind": met[0][1].kind, "most": most, "least": least},
        fixes,
    )


def varies(context: CheckContext, kind: str, frames: Sequence[int]) -> int:
    """Return the range of the number of faults of one kind in these frames: the largest minus the smallest number."""
    problems = [context.series.facts[index].problem(kind) for index in frames]
    counts = [0 if problem is None else problem.count for problem in problems]
    return max(counts, default=0) - min(counts, default=0)
