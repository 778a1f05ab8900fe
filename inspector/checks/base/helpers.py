"""Functions that checks share, for choosing frames, collecting locations and writing counts in words."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from fractions import Fraction
from itertools import islice

import numpy as np

from inspector import limits
from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.formats.element_lines import element_line
from inspector.formats.problems import KINDS, Problem
from inspector.names import counted
from inspector.sequence.measure.facts import FrameFacts


def base_facts(context: CheckContext) -> FrameFacts:
    """Return the facts of the reference frame.

    Raises:
        NotApplicable: There is no reference frame, because every frame is empty or can't be read.
    """
    if context.series.reference_index is None:
        raise NotApplicable("every frame is empty" if context.series.facts[0].readable else "no frame can be read")
    return context.series.reference_facts


def base_with_uvs(context: CheckContext) -> FrameFacts:
    """Return the facts of the reference frame, which must have complete UVs (see `has_whole_uvs`).

    Raises:
        NotApplicable: There is no reference frame, or its UVs are not complete.
    """
    base = base_facts(context)
    if not has_whole_uvs(base):
        without_any = not base.faces or base.faces_without_uvs == base.faces
        raise NotApplicable(
            "the reference frame has no UVs" if without_any else "some faces of the reference frame have no valid UVs"
        )
    return base


def usable(context: CheckContext) -> list[int]:
    """Return the indices of the frames that could be read, are not empty and are not cut short."""
    return list(context.once(_usable))


def _usable(context: CheckContext) -> tuple[int, ...]:
    return tuple(np.flatnonzero(context.series.usable).tolist())


def usable_where(context: CheckContext, condition: Callable[[FrameFacts], bool]) -> list[int]:
    """Return the indices of the usable frames (see `usable`) whose facts meet a condition."""
    return [index for index in usable(context) if condition(context.series.facts[index])]


def same_faces(context: CheckContext) -> list[int]:
    """Return the indices of the usable frames that have complete UVs and the same faces as the reference frame.

    Raises:
        MeshqcError: There is no reference frame.
    """
    return list(context.once(_same_faces))


def _same_faces(context: CheckContext) -> tuple[int, ...]:
    base = context.series.reference_facts
    return tuple(usable_where(context, lambda facts: facts.topology == base.topology and has_whole_uvs(facts)))


def has_whole_uvs(facts: FrameFacts) -> bool:
    """Whether the frame has faces, every corner has a valid UV, and all UVs are finite numbers."""
    return facts.faces > 0 and facts.faces_without_uvs == 0 and facts.problem("bad-uv") is None


def same_layout(context: CheckContext) -> list[int]:
    """Return the indices of the usable frames with the same faces and UVs as the reference frame.

    Raises:
        NotApplicable: There is no reference frame, or its UVs are not complete.
    """
    base = base_with_uvs(context)
    state = (base.topology, base.uv_indices, base.uv_values)
    return usable_where(context, lambda facts: (facts.topology, facts.uv_indices, facts.uv_values) == state)


def files(context: CheckContext, indices: Iterable[int]) -> tuple[Where, ...]:
    """Return the files of the first few frames, as locations without a line."""
    return tuple(Where(context.file_name(index)) for index in islice(indices, limits.PLACES_KEPT))


def number_shift(context: CheckContext) -> Fraction | None:
    """Return the number by which all frame numbers are too large; negative if they are too small.

    The result is None if the numbers are right, if no range is stated, or if the sequence has a gap or a different
    length.
    """
    stated, sequence = context.settings.expected, context.series.sequence
    first, last = sequence.files[0].number, sequence.files[-1].number
    if stated is None or sequence.gaps or last - first != stated[1] - stated[0]:
        return None
    return first - stated[0] or None


def count_of(number: int, thing: str) -> str:
    """Write a number with a noun: `1 face`, `1,204 faces`, `12 vertices`. `thing` is the noun in the singular."""
    return counted(number, thing, plural_of(thing))


def range_of(counts: Collection[int], thing: str) -> str:
    """Write the range of some counts with a noun: `12 faces`, `1 to 12 faces`. `thing` is the noun in the singular."""
    least, most = min(counts), max(counts)
    return count_of(most, thing) if least == most else f"{least:,} to {most:,} {plural_of(thing)}"


_PLURALS = {"vertex": "vertices", "material library": "material libraries"}


def part_of(number: int, total: int, thing: str) -> str:
    """Write a number, a total and a noun: `3 of 1,204 faces`. `thing` is the noun in the singular."""
    return f"{number:,} of {count_of(total, thing)}"


def two_digits(number: float) -> str:
    """Write a number with two significant digits and without an exponent."""
    return np.format_float_positional(number, 2, fractional=False, trim="-")


def in_diagonals(diagonals: float) -> str:
    """Write a distance relative to the reference frame's diagonal: `0.034 of the reference frame's diagonal`."""
    shown = two_digits(diagonals)
    if diagonals >= 99.5:
        shown = f"{diagonals:,.0f}"
    return f"{shown} {'of' if shown.startswith('0') else 'times'} the reference frame's diagonal"


def plural_of(thing: str) -> str:
    return _PLURALS.get(thing, f"{thing}s")


def these_frames(indices: Collection[object]) -> str:
    """Return `this frame` or `these frames`, according to the number of indices."""
    return "this frame" if len(indices) == 1 else "these frames"


def these_have(indices: Collection[object]) -> str:
    """Return `this frame has` or `these frames have`, according to the number of indices."""
    return f"{these_frames(indices)} {'has' if len(indices) == 1 else 'have'}"


def vertex_places(context: CheckContext, vertices: Mapping[int, int]) -> tuple[Where, ...]:
    """Return the locations of the first few vertices, including line numbers. The frames are read again.

    Args:
        context: The sequence.
        vertices: Index of a frame -> index, from 0, of a vertex in that frame.

    Raises:
        MeshqcError: A file can't be read any more.
    """
    return tuple(
        Where(context.file_name(index), element_line(context.frame(index), b"v", vertex), f"vertex {vertex + 1}")
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
    """Yield one finding per kind of problem that the reader noted, about all frames with the problem.

    Args:
        context: The sequence.
        check: Id of the check.
        kinds: Kinds of problems, keys of problems.KINDS.
        severity: Severity of the findings.
        fixes: Ids of the fixes for the findings.
        element: Name of the elements in the locations, such as "face"; None if the locations state only line numbers.
        unless: A different kind of problem. Frames with a problem of this kind are left out, because another check
            reports them.
    """
    noted = context.once(_noted)
    for kind in kinds:
        if kind not in noted:
            continue
        left_to_another = noted.get(unless, {}) if unless is not None else {}
        frames = context.unexplained(index for index in noted[kind] if index not in left_to_another)
        if frames:
            met = [(index, noted[kind][index]) for index in frames]
            yield _finding(context, check, kind, met, severity, fixes, element)


def _noted(context: CheckContext) -> dict[str, dict[int, Problem]]:
    """Return the problems that the reader noted in usable frames, by kind and then by frame index."""
    noted: dict[str, dict[int, Problem]] = {}
    for index in usable(context):
        for problem in context.series.facts[index].problems:
            noted.setdefault(problem.kind, {}).setdefault(index, problem)
    return noted


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
    example = f"`{first.text.display}`" if first.text is not None and first.text.raw else ""
    times = count_of(total, "place") if total > 1 else ""
    details = f"{times}; the first is {example}" if times and example else times or example
    return Finding(
        check=check,
        severity=severity,
        message=f"{KINDS[kind]} ({details})" if details else KINDS[kind],
        frames=context.numbers([index for index, _ in met]),
        where=problem_places(context, met, element),
        numbers={"kind": kind, "places": total},
        fixes=fixes,
    )


def problem_places(context: CheckContext, met: Iterable[tuple[int, Problem]], element: str | None) -> tuple[Where, ...]:
    """Return the first few locations of a problem: the first location in each frame, then the second, and so on.

    `met` contains pairs of a frame's index and the problem. `element` is the kind of element to name; None to give only
    line numbers.
    """
    ranked = [
        (rank, order, Where(context.file_name(index), place.line, _element(element, place.element)))
        for order, (index, problem) in enumerate(met)
        for rank, place in enumerate(problem.places)
    ]
    ranked.sort(key=lambda entry: entry[:2])
    return tuple(where for _, _, where in ranked[: limits.PLACES_KEPT])


def _element(kind: str | None, element: int | None) -> str | None:
    """Return an element's name with a one-based number, such as `face 12`; None if the kind or index is None."""
    return None if element is None or kind is None else f"{kind} {element + 1}"
