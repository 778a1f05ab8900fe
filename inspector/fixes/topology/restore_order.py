"""Put the vertices and faces of frames back into the order of the reference frame."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.face_match import corners_alike
from inspector.fixes.base.faces import (
    FACE_COMMENTS,
    ILLEGAL_FACES,
    OTHER_STATES,
    has_legal_faces,
    states_of,
    with_faces,
)
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.text_edit import settled, with_lines_reordered
from inspector.fixes.base.vertex_match import Course, Reference, match_vertices
from inspector.formats.frame import Corners, Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts


@dataclass(frozen=True, slots=True, eq=False)
class Order:
    """The order of one frame.

    Attributes:
        vertices: The frame's vertex for each vertex of the reference frame, (n,).
        corners: The frame's corner for each corner of the reference frame, (c,).
    """

    vertices: Indices
    corners: Indices


@dataclass(frozen=True, slots=True, eq=False)
class RestoredOrder:
    """The order that the fix gives to frames.

    Attributes:
        faces: Faces of the reference frame.
        orders: Order of each frame, by frame number.
    """

    faces: Corners
    orders: Mapping[Fraction, Order]


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[RestoredOrder]:
    """Find the frames with different faces, and match their vertices to those of the reference frame.

    Raises:
        Refusal: No frame has different faces; a chosen frame doesn't exist or can't be read; the reference frame's
            faces aren't valid, or no frame with the reference frame's faces is intact; or a frame is not a permutation
            of the reference frame, or more than one order fits.
    """
    series = context.series
    if series.reference_index is None:
        raise Refusal("no frame can be read")
    if not has_legal_faces(context.reference_frame):
        raise Refusal(ILLEGAL_FACES)
    base = series.reference_facts
    wanted = _shuffled(context) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if not _alike(series.facts[index], base)]
    if not indices:
        raise Refusal("every frame already has the faces of the reference frame")
    reference = Reference.of(context.reference_frame)
    orders = {series.facts[index].number: _order(context, index, reference) for index in indices}
    first = next(iter(orders.values()))
    moved = int((first.vertices != np.arange(len(first.vertices))).sum())
    return Step(
        FIX.id,
        {"reference": frame_text(base.number)},
        tuple(orders),
        f"put the vertices and faces of {numbers_text(orders)} back into the order of frame {frame_text(base.number)}",
        (Change(f"frame {frame_text(next(iter(orders)))}", f"{count_of(moved, 'vertex number')} differ", "none"),),
        work=RestoredOrder(context.reference_frame.corners, orders),
    )


def _alike(facts: FrameFacts, base: FrameFacts) -> bool:
    return (facts.vertices, facts.topology) == (base.vertices, base.topology)


def _shuffled(context: CheckContext) -> tuple[Fraction, ...]:
    base = context.series.reference_facts
    return tuple(
        dict.fromkeys(
            one.number
            for one in context.series.facts
            if one.filled and one.topology != base.topology
            if (one.vertices, one.faces) == (base.vertices, base.faces)
        )
    )


def _order(context: CheckContext, index: int, matched: Reference) -> Order:
    """Find the frame's vertex and corner for each vertex and corner of the reference frame.

    Raises:
        Refusal: The frame is not a permutation of the reference frame, or more than one order fits.
    """
    frame, reference = context.frame(index), context.reference_frame
    _refuse_unfit(frame, reference)
    ambiguous = 0
    # Positions are compared as they are, and then relative to their mean, so that motion as a whole doesn't count.
    for centre in (False, True):
        placed = frame.replace(positions=_centred(frame.positions)) if centre else frame
        match = match_vertices(matched, _course(context, index, centre), placed)
        if not match.connected_alike:
            raise Refusal(
                "the faces don't connect the vertices in the same way as in the reference frame, and reordering the "
                "vertices can't change that; export the frame again from the same mesh as the reference frame"
            )
        if match.order is not None:
            return _whole(reference, frame, match.order)
        ambiguous = match.ambiguous
    raise Refusal(
        f"several orders fit equally well; {ambiguous:,} of {len(frame.positions):,} vertices can't be "
        "distinguished from others with the same connections (they share a position, or moved too far compared with "
        "the distance between them)"
    )


def _refuse_unfit(frame: Frame, reference: Frame) -> None:
    if (len(frame.positions), frame.faces) != (len(reference.positions), reference.faces):
        raise Refusal("the number of vertices or faces differs from the reference frame's")
    if not has_legal_faces(frame) or not np.isfinite(frame.positions).all():
        raise Refusal("a coordinate is not a finite number, or a face has fewer than three corners or a missing vertex")


def _course(context: CheckContext, index: int, centre: bool) -> Course:
    """Find the positions in the intact frame that is nearest in time, and how far each vertex may have moved between
    that frame and the frame with the given index.

    If `centre` is true, the positions are relative to their mean.

    Raises:
        Refusal: No frame with the reference frame's faces is intact.
    """
    series = context.series
    facts, number = series.facts, series.facts[index].number

    def placed(one: int) -> Floats:
        positions = context.frame(one).positions
        return _centred(positions) if centre else positions

    def way(one: int, other: Fraction) -> float:
        return float(abs(facts[one].number - other))

    good = [one for one in range(len(facts)) if series.usable[one] and _alike(facts[one], series.reference_facts)]
    good = [one for one in good if facts[one].problem("bad-number") is None]
    if not good:
        raise Refusal("no intact frame has the same faces as the reference frame")
    nearest = min(good, key=lambda one: way(one, number))
    places, motion = placed(nearest), np.zeros(facts[nearest].vertices)
    at = good.index(nearest)
    for other in good[max(0, at - 1) : at] + good[at + 1 : at + 2]:
        span = way(other, facts[nearest].number)
        step = np.linalg.norm(placed(other) - places, axis=1)
        motion = np.maximum(motion, step * (way(nearest, number) / span) if span else 0.0)
    return Course(places, motion)


def _centred(positions: Floats) -> Floats:
    """Return positions relative to their mean, (n, 3). The mean does not depend on the order of the vertices."""
    return np.asarray(positions - positions.mean(axis=0))


def _whole(reference: Frame, frame: Frame, order: Indices) -> Order:
    corners = corners_alike(reference, frame, order) if states_of(frame) == states_of(reference) else None
    if corners is None:
        raise Refusal(OTHER_STATES)
    return Order(order, corners)


def edit_frame(frame: Frame, step: Step[RestoredOrder], number: Fraction) -> Frame:
    order, faces = step.work.orders[number], step.work.faces
    old = settled(frame)
    counts = [run.stop - run.start for run in old.runs]
    moved = with_lines_reordered(old, b"v", order.vertices)
    vt, vn = old.corners.vt[order.corners], old.corners.vn[order.corners]
    return with_faces(moved, Corners(faces.offsets, faces.v, vt, vn), counts)


FIX = Fix(
    id="restore-order",
    title="Restore the vertex order",
    kind=FixKind.LOSSLESS,
    does="If the vertices and faces of a frame are in a different order, puts their lines into the order of the "
    "reference frame. No coordinate changes." + FACE_COMMENTS,
    cost="",
    touches=frozenset({b"v", b"f", b"fo"}),
    claims=frozenset({Claim.FACES}),
    plan=plan,
    edit_frame=edit_frame,
)
