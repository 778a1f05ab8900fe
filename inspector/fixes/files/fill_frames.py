"""Estimate missing and broken frames from their neighbours."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection
from dataclasses import dataclass, replace
from fractions import Fraction

import numpy as np

from inspector.checks.base.context import CheckContext
from inspector.checks.base.uv_compare import moving_uvs
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.output_frames import OutputFrame, OutputFrames, as_obj, numbered_file
from inspector.fixes.base.parameters import word_of
from inspector.names import counted
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.series import Series

POSES_BEND = 1.15
"""Maximum median bend of a motion; frames with a larger median bend count as unrelated poses. A frame's bend is its
distance from the mean of the previous and the next frame, divided by half the distance between these two frames. Smooth
motion gives about 0.5 or less; held frames and animation on twos give 1. Unrelated poses give the square root of 3,
because the mean of two independent points has half their variance. The measured medians are 0.06 to 0.51 on 17 real
motions, and 1.31 and 1.72 on two real sets of poses."""
_LEAST_BENDS = 3
"""Minimum number of frames with a bend above 0 that are needed to recognise a set of poses."""

HOLD, BLEND = "hold", "blend"


@dataclass(frozen=True, slots=True)
class Filling:
    """How one frame is made.

    Attributes:
        number: Number of the frame to make.
        sources: Indices of the source frames in `series.facts`. Faces, UVs and materials come from the first source.
        weights: One weight per source; the sum is 1. The first source has weight 0 if it supplies no positions.
        made: BLEND or HOLD.
    """

    number: Fraction
    sources: tuple[int, ...]
    weights: tuple[float, ...]
    made: str


def plan(
    context: CheckContext, parameters: Parameters, frames: tuple[Fraction, ...] | None
) -> Step[tuple[Filling, ...]]:
    """For each frame to make, choose the intact frames from which to make it, and whether to blend or to hold them.

    Returns:
        A step whose `work` contains one Filling per frame.

    Raises:
        Refusal: There is no frame to make; no frame is intact, or more frames are to be made than are intact; the
            frames are a set of poses; a frame to make has more than one file; the mode is unknown; or the mode is BLEND
            and a frame can't be blended.
    """
    series = context.series
    mode = word_of(parameters, "mode", (HOLD, BLEND))
    wanted = tuple(sorted(set(_gaps(series) if frames is None else frames)))
    if not wanted:
        raise Refusal("no frame is missing or unreadable")
    _refuse_repeated(series, wanted)
    _refuse_poses(series, set(wanted))
    good = _good(series, set(wanted))
    if not good:
        raise Refusal("there is no intact frame to fill from")
    if len(wanted) > len({series.facts[index].number for index in good}):
        raise Refusal(
            f"{len(wanted)} frames would be estimated from only {counted(len(good), 'intact frame')}; export the "
            "sequence again, or choose fewer frames"
        )
    whole = _whole(context, good)
    fillings = tuple(_filling(series, good, whole, number, mode) for number in wanted)
    return Step(
        FIX.id,
        parameters,
        wanted,
        f"fill {numbers_text(wanted)} from {'its' if len(wanted) == 1 else 'their'} neighbours",
        tuple(_change(series, wanted, one) for one in fillings),
        work=fillings,
    )


def _gaps(series: Series) -> tuple[Fraction, ...]:
    unreadable = tuple(facts.number for facts in series.facts if not facts.readable)
    return series.sequence.missing + unreadable


def _refuse_repeated(series: Series, wanted: tuple[Fraction, ...]) -> None:
    counts = Counter(facts.number for facts in series.facts)
    twice = [number for number in wanted if counts[number] > 1]
    if twice:
        raise Refusal(f"{numbers_text(twice)}: several files have the same frame number; remove the extra files first")


def _refuse_poses(series: Series, wanted: set[Fraction]) -> None:
    """Refuse frames that are unrelated poses, such as facial expressions.

    An unrelated pose can't be estimated from its neighbours.

    Raises:
        Refusal: The frames are unrelated poses.
    """
    bends = []
    for middle in range(1, len(series.facts) - 1):
        three = slice(middle - 1, middle + 2)
        points, numbers = series.samples[three], [one.number for one in series.facts[three]]
        if wanted.isdisjoint(numbers) and np.isfinite(points).all():
            across = float(np.linalg.norm(points[2] - points[0])) / 2.0
            off = float(np.linalg.norm(points[1] - (points[0] + points[2]) / 2.0))
            if off > 0.0:
                bends.append(off / max(across, np.finfo(float).tiny))
    if len(bends) >= _LEAST_BENDS and float(np.median(bends)) > POSES_BEND:
        raise Refusal(
            "the frames appear to be separate poses, not a motion, so no frame can be estimated from its neighbours"
        )


def _good(series: Series, wanted: set[Fraction]) -> list[int]:
    """Return the indices of the intact frames from which other frames can be made; empty if no frame can be read.

    If most intact frames have the reference frame's faces, the other intact frames are left out.
    """
    whole = [index for index, facts in enumerate(series.facts) if facts.number not in wanted and _intact(series, index)]
    if series.reference_index is None:
        return []
    alike = [index for index in whole if _alike(series.facts[index], series.reference_facts)]
    return alike if 2 * len(alike) > len(whole) else whole


def _intact(series: Series, index: int) -> bool:
    return bool(series.usable[index]) and series.facts[index].problem("bad-number") is None


def _alike(a: FrameFacts, b: FrameFacts) -> bool:
    return (a.vertices, a.topology) == (b.vertices, b.topology)


def _filling(series: Series, good: list[int], whole: frozenset[int], number: Fraction, mode: str | None) -> Filling:
    facts = series.facts
    before = max((index for index in good if facts[index].number < number), default=None)
    after = min((index for index in good if facts[index].number > number), default=None)
    both = before is not None and after is not None
    if before is not None and after is not None and mode != HOLD and _alike(facts[before], facts[after]):
        share = float((number - facts[before].number) / (facts[after].number - facts[before].number))
        return _based(series, good, whole, Filling(number, (before, after), (1 - share, share), BLEND))
    if mode == BLEND:
        reason = "its neighbours have different faces" if both else "it has a neighbour on one side only"
        raise Refusal(f"frame {frame_text(number)} can't be blended: {reason}")
    ends_there = [index for index in (before, after) if index is not None]
    nearest = min(ends_there, key=lambda index: (abs(facts[index].number - number), index))
    return _based(series, good, whole, Filling(number, (nearest,), (1.0,), HOLD))


def _based(series: Series, good: list[int], whole: frozenset[int], filling: Filling) -> Filling:
    """Return the filling with the most suitable first source, which supplies the faces, UVs and materials.

    The best neighbour is the nearest neighbour with the reference frame's materials or, if no neighbour has them, the
    nearest neighbour. The first source is chosen from the frames with the best neighbour's faces. The criteria, in
    order of importance, are: the frame is in `whole`; it has the best neighbour's materials; it is a neighbour; its
    frame number is close to that of the new frame.
    """
    facts, weights = series.facts, dict(zip(filling.sources, filling.weights, strict=True))
    best = min(
        filling.sources, key=lambda index: (not _same_materials(facts[index], series.reference_facts), -weights[index])
    )
    base = min(
        (index for index in good if _alike(facts[index], facts[best])),
        key=lambda index: (
            index not in whole,
            not _same_materials(facts[index], facts[best]),
            -weights.get(index, 0.0),
            abs(facts[index].number - filling.number),
        ),
    )
    sources = (base, *(index for index in filling.sources if index != base))
    return replace(filling, sources=sources, weights=tuple(weights.get(index, 0.0) for index in sources))


def _whole(context: CheckContext, good: list[int]) -> frozenset[int]:
    """Return those of the indices in `good` whose frames have UVs and normals as complete as the reference frame's.

    These frames have the same UVs as the reference frame, the same number of faces without UVs, and the same number of
    faces without normals. If the UVs move, their indices must be the same, but their coordinates may differ.
    """
    series = context.series
    moving = bool(moving_uvs(context))

    def state(facts: FrameFacts) -> tuple[object, ...]:
        values = b"" if moving else facts.uv_values
        return facts.uv_indices, values, facts.faces_without_uvs, facts.faces_without_normals

    return frozenset(index for index in good if state(series.facts[index]) == state(series.reference_facts))


def _same_materials(a: FrameFacts, b: FrameFacts) -> bool:
    return a.materials == b.materials and [one.name for one in a.libraries] == [one.name for one in b.libraries]


def _change(series: Series, wanted: Collection[Fraction], filling: Filling) -> Change:
    there = any(facts.number == filling.number for facts in series.facts)
    shares = [
        (weight, frame_text(series.facts[index].number))
        for index, weight in zip(filling.sources, filling.weights, strict=True)
        if weight
    ]
    how = f"held from frame {shares[0][1]}"
    if filling.made == BLEND:
        how = " and ".join(f"{weight:.0%} of frame {number}" for weight, number in shares)
    return Change(
        f"frame {frame_text(filling.number)}",
        "present" if there else "missing",
        how + _passed(series, wanted, filling) + _not_blended(series, filling),
    )


def _not_blended(series: Series, filling: Filling) -> str:
    """Describe the source of everything that isn't blended, as in `; faces, UVs and materials from frame 2`.

    Return "" if all sources have the same UVs, the same materials and libraries, and the same number of faces that have
    no normals.
    """
    base, *others = (series.facts[index] for index in filling.sources)
    alike = all(
        (one.uv_indices, one.uv_values, one.faces_without_normals)
        == (base.uv_indices, base.uv_values, base.faces_without_normals)
        and _same_materials(one, base)
        for one in others
    )
    return "" if alike else f"; faces, UVs and materials from frame {frame_text(base.number)}"


def _passed(series: Series, wanted: Collection[Fraction], filling: Filling) -> str:
    """Describe the frames that are nearer to the made frame than its sources, and why they aren't used; "" if there are
    none.

    The text has the form ` (frames 20-22 are not intact; frame 23 has different faces)`.
    """
    sources = [
        series.facts[index].number for index, weight in zip(filling.sources, filling.weights, strict=True) if weight
    ]
    low, high = min(*sources, filling.number), max(*sources, filling.number)
    nearer = {one.number: index for index, one in enumerate(series.facts) if low < one.number < high}
    nearer.pop(filling.number, None)
    unlike = [number for number, index in nearer.items() if number not in wanted and _intact(series, index)]
    broken = set(nearer).difference(unlike)
    reasons = [f"{numbers_text(broken)} {'is' if len(broken) == 1 else 'are'} not intact"] * bool(broken)
    reasons += [f"{numbers_text(unlike)} {'has' if len(unlike) == 1 else 'have'} different faces"] * bool(unlike)
    return f" ({'; '.join(reasons)})" if reasons else ""


def edit_output(outputs: OutputFrames, step: Step[tuple[Filling, ...]], context: CheckContext) -> OutputFrames:
    """Add the filled frames to the list, in place of broken frames. The list is in the order of the frame numbers."""
    fillings = {filling.number: filling for filling in step.work}
    files = {output.number: output.file for output in reversed(outputs)}
    kept = [output for output in outputs if output.number not in fillings]
    made = [
        OutputFrame(
            number,
            as_obj(files.get(number) or numbered_file(context.series.sequence, number)),
            one.sources,
            one.weights,
            one.made,
        )
        for number, one in fillings.items()
    ]
    return tuple(sorted([*kept, *made], key=lambda output: output.number))


FIX = Fix(
    id="fill-frames",
    title="Fill frames from their neighbours",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ESTIMATES}),
    does="Estimates a missing or broken frame by blending its neighbours (the nearest frames whose positions are "
    "intact) or by repeating the nearest neighbour. If the UVs or normals of a neighbour are damaged, only its "
    "positions are used; faces, UVs and materials are then taken from the nearest frame whose UVs and normals are "
    "intact.",
    cost="The true motion on these frames is unknown. The frames are estimates, and are marked as such in the receipt.",
    touches=frozenset({b"v", b"vn", b"f", b"fo"}),
    claims=frozenset({Claim.POSITIONS, Claim.FACES, Claim.UVS, Claim.LIBRARIES}),
    plan=plan,
    parameters={"mode": "blend (both neighbours) or hold (repeat the nearest neighbour); default: blend if possible"},
    edit_output=edit_output,
)
