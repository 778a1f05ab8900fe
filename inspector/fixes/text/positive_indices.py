"""Rewrite relative and 0-based indices in faces as absolute indices that start at 1."""

from __future__ import annotations

from fractions import Fraction

import numpy as np

from inspector.arrays import Flags, SmallIndices
from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.text_edit import Draft
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.formats.problems import KINDS
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts

_OUT_OF_RANGE = ("index-zero", "index-range", "vt-index-range", "vn-index-range")


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[frozenset[Fraction]]:
    """Find the frames with relative or 0-based indices.

    Returns:
        A step whose `work` contains the numbers of the frames with 0-based indices.

    Raises:
        Refusal: There is no such frame, an index is out of range, or a chosen frame doesn't exist or can't be read.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if _amiss(one))) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if _amiss(facts[index])]
    if not indices:
        raise Refusal("all indices are already absolute and start at 1")
    zero_based = []
    for index in indices:
        if facts[index].problem("zero-based") is not None:
            zero_based.append(facts[index].number)
            continue
        for kind in _OUT_OF_RANGE:
            problem = facts[index].problem(kind)
            if problem is not None:
                line = problem.places[0].line
                number = frame_text(facts[index].number)
                raise Refusal(f"frame {number}, line {line}: {KINDS[kind]}; the intended index is unknown")
    numbers = context.numbers(indices)
    return Step(
        FIX.id,
        {},
        numbers,
        f"rewrite the indices of {numbers_text(numbers)} as absolute indices that start at 1",
        _changes(context.frame(indices[0]), facts[indices[0]], facts[indices[0]].number in zero_based),
        work=frozenset(zero_based),
    )


def _amiss(facts: FrameFacts) -> bool:
    return facts.filled and any(facts.problem(kind) is not None for kind in ("relative-index", "zero-based"))


def _changes(frame: Frame, facts: FrameFacts, from_zero: bool) -> tuple[Change, ...]:
    problem = facts.problem("zero-based" if from_zero else "relative-index")
    place = problem.places[0] if problem else None
    what = place.text.display if place is not None and place.text is not None else ""
    line = place.line if place else 0
    first = int((_counted_up(frame) if from_zero else frame).corners.v[0]) + 1
    return (Change(f"frame {frame_text(facts.number)}, line {line}, corner 1", what, str(first)),)


def _counted_up(frame: Frame) -> Frame:
    """Return the frame with its vertex indices increased by 1. If its UV or normal indices are 0-based, they are
    increased too."""
    corners = frame.corners
    v = (corners.v + 1).astype(np.int32)
    return frame.replace(corners=Corners(corners.offsets, v, _up(frame, b"vt"), _up(frame, b"vn")))


def _up(frame: Frame, keyword: bytes) -> SmallIndices:
    """Return the UV or normal index of each corner, (c,), increased by 1 if the indices are 0-based.

    The reader has reduced each index by 1, and turned 0 into ABSENT. If the largest index now refers to the
    second-to-last element, the indices count as 0-based. Corners without an index in the file stay ABSENT.
    """
    corners = frame.corners
    indices, count = (corners.vt, len(frame.uvs)) if keyword == b"vt" else (corners.vn, len(frame.normals))
    if int(indices.max(initial=ABSENT)) != count - 2:
        return indices
    fresh = (indices + 1).astype(np.int32)
    fresh[~_written(frame, indices, 1 if keyword == b"vt" else 2)] = ABSENT
    return fresh


def _written(frame: Frame, indices: SmallIndices, slot: int) -> Flags:
    """For each corner, return whether a UV or normal index is written in the file, (c,).

    `slot` is the position of the index in a corner such as `1/2/3`: 1 for UVs, 2 for normals. Only faces with an ABSENT
    corner are looked up in the text.
    """
    written: Flags = indices != ABSENT
    offsets, unclear = frame.corners.offsets, frame.corners.faces_with(~written)
    draft = Draft(frame)
    for run in draft.frame.runs:
        own = unclear[(unclear >= run.start) & (unclear < run.stop)].tolist()
        lines = draft.lines(run.block) if own else []
        for face in own:
            words = [word.split(b"/") for word in lines[face - run.start][0].split(b"#")[0].split()[1:]]
            if len(words) == offsets[face + 1] - offsets[face]:
                written[offsets[face] : offsets[face + 1]] = [len(word) > slot and word[slot] != b"" for word in words]
    return written


def edit_frame(frame: Frame, step: Step[frozenset[Fraction]], number: Fraction) -> Frame:
    return _counted_up(frame) if number in step.work else frame.replace(corners=frame.corners)


FIX = Fix(
    id="positive-indices",
    title="Count indices from 1",
    kind=FixKind.LOSSLESS,
    does="Rewrites relative indices, and indices that start at 0, as absolute indices, which start at 1.",
    cost="",
    touches=frozenset({b"f", b"fo"}),
    claims=frozenset({Claim.INDICES}),
    plan=plan,
    edit_frame=edit_frame,
)
