"""What several checks do the same way: choosing frames, gathering places, wording counts."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import islice

import numpy as np

from inspector import limits
from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.formats.lines import vertex_line
from inspector.formats.problems import KINDS, Problem
from inspector.sequence.measure.facts import FrameFacts


def base_facts(context: CheckContext) -> FrameFacts:
    """Facts of the reference. Raises NotApplicable where no frame can be read."""
    if context.series.reference_index is None:
        raise NotApplicable("every frame is empty" if context.series.facts[0].readable else "no frame can be read")
    return context.series.reference_facts


def base_with_uvs(context: CheckContext) -> FrameFacts:
    """Facts of the reference. Raises NotApplicable where it has no UVs to hold others against."""
    base = base_facts(context)
    if not has_whole_uvs(base):
        lacks_all = not base.faces or base.faces_without_uvs == base.faces
        raise NotApplicable("the reference has no UVs" if lacks_all else "some faces of the reference have no good UVs")
    return base


def usable(context: CheckContext) -> list[int]:
    """Indices of the frames that could be read whole."""
    return [int(index) for index in np.flatnonzero(context.series.usable)]


def usable_where(context: CheckContext, condition: Callable[[FrameFacts], bool]) -> list[int]:
    """Indices of the frames that could be read whole and meet the condition."""
    return [index for index in usable(context) if condition(context.series.facts[index])]


def same_faces(context: CheckContext) -> list[int]:
    """Indices of the frames whose faces are the reference's and whose UVs are complete: UVs can be compared."""
    base = context.series.reference_facts
    return usable_where(context, lambda facts: facts.topology == base.topology and has_whole_uvs(facts))


def has_whole_uvs(facts: FrameFacts) -> bool:
    """Whether every corner of every face has a legal UV of finite numbers."""
    return facts.faces > 0 and facts.faces_without_uvs == 0 and facts.problem("bad-uv") is None


def same_layout(context: CheckContext) -> list[int]:
    """Indices of the frames whose faces lie in the texture as the reference's do; the others are told of as others.

    Raises NotApplicable where the reference has no UVs.
    """
    base = base_with_uvs(context)
    state = (base.topology, base.uv_indices, base.uv_values)
    return usable_where(context, lambda facts: (facts.topology, facts.uv_indices, facts.uv_values) == state)


def files(context: CheckContext, indices: Iterable[int]) -> tuple[Where, ...]:
    """The first few files as places without a line."""
    return tuple(Where(context.file_name(index)) for index in islice(indices, limits.PLACES_KEPT))


def number_shift(context: CheckContext) -> Fraction | None:
    """By how much all frame numbers are off the stated range, None where they aren't off by one amount.

    The sequence has as many frames as the range, without a gap.
    """
    stated, sequence = context.settings.expected, context.series.sequence
    first, last = sequence.files[0].number, sequence.files[-1].number
    if stated is None or sequence.missing or last - first != stated[1] - stated[0]:
        return None
    return first - stated[0] or None


def count_of(number: int, thing: str) -> str:
    """`1 face`, `1,204 faces`, `12 vertices`."""
    many = {"vertex": "vertices"}.get(thing, f"{thing}s")
    return f"{number:,} {thing if number == 1 else many}"


def vertex_places(context: CheckContext, vertices: Mapping[int, int]) -> tuple[Where, ...]:
    """Lines of vertices, given by index of the frame; of the first few, whose files are read again."""
    return tuple(
        Where(context.file_name(index), vertex_line(context.frame(index), vertex), f"vertex {vertex + 1}")
        for index, vertex in islice(sorted(vertices.items()), limits.PLACES_KEPT)
    )


def problem_findings(
    context: CheckContext,
    check: str,
    kinds: Sequence[str],
    severity: Severity,
    fixes: tuple[str, ...] = (),
    element: str | None = None,
    unless: str | None = None,
) -> Iterable[Finding]:
    """One finding for each kind of reader's problem that any frame has, over all frames that have it.

    unless: a kind that says the same better; frames that have it are left to its own check.
    """
    frames = context.unexplained(usable_where(context, lambda facts: unless is None or facts.problem(unless) is None))
    for kind in kinds:
        met = [(index, problem) for index in frames if (problem := _problem(context, index, kind))]
        if met:
            yield _finding(context, check, kind, met, severity, fixes, element)


def _problem(context: CheckContext, index: int, kind: str) -> Problem | None:
    return context.series.facts[index].problem(kind)


def _finding(
    context: CheckContext,
    check: str,
    kind: str,
    met: list[tuple[int, Problem]],
    severity: Severity,
    fixes: tuple[str, ...],
    element: str | None,
) -> Finding:
    total = sum(problem.count for _, problem in met)
    first = met[0][1].places[0]
    example = f", first `{first.text.display}`" if first.text is not None and first.text.raw else ""
    times = "" if total == 1 else f" ({count_of(total, 'place')})"
    return Finding(
        check=check,
        severity=severity,
        message=f"{KINDS[kind]}{times}{example}",
        frames=context.numbers([index for index, _ in met]),
        where=problem_places(context, met, element),
        numbers={"kind": kind, "places": total},
        fixes=fixes,
    )


def problem_places(context: CheckContext, met: Iterable[tuple[int, Problem]], element: str | None) -> tuple[Where, ...]:
    """The first few places: the first of each frame before the second of any, so that more frames are seen."""
    ranked = [
        (rank, order, Where(context.file_name(index), place.line, _element(element, place.element)))
        for order, (index, problem) in enumerate(met)
        for rank, place in enumerate(problem.places)
    ]
    ranked.sort(key=lambda entry: entry[:2])
    return tuple(where for _, _, where in ranked[: limits.PLACES_KEPT])


def _element(kind: str | None, element: int | None) -> str | None:
    """Elements count from 1 for people, as the format's own indices do."""
    return None if element is None or kind is None else f"{kind} {element + 1}"
