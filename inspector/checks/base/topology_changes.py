"""Assign each frame whose faces differ from the reference frame's to one check, so that each cause is reported once."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import mesh_changes_throughout
from inspector.checks.base.face_change import ORDER_FACTOR, FaceChange
from inspector.checks.base.finding import Where
from inspector.checks.base.helpers import usable, usable_where
from inspector.checks.base.off_path import off_path
from inspector.checks.base.turned import reflected_frames
from inspector.checks.base.whole_surfaces import SIDE_SHARE, odd_edges, whole_indices
from inspector.formats.element_lines import face_line
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.connections import is_closed
from inspector.surface.shapes import Shapes
from inspector.threshold import Threshold

VOLUME_SHARE = Threshold(
    "volume-share",
    1e-3,
    "Ratio of a closed surface's volume to the power 1.5 of its area, above which the surface has a meaningful "
    "inside. The largest possible ratio is that of a ball, 0.094. A closed sheet whose thickness is a hundredth of "
    "its width has a ratio of about 0.004.",
)

WINDING, ORDER, COMPONENTS, EDGES, OTHER = (
    "winding",
    "vertex-order",
    "component-count",
    "boundary-edges",
    "changed-faces",
)
FACES = "face-order"


def reported_by(context: CheckContext, check: str) -> dict[int, FaceChange]:
    """Find the frames whose faces differ from the reference frame's in a way that one check reports.

    Only frames with as many vertices and faces as the reference frame, and with a vertex at every corner, are compared.

    Args:
        context: The sequence.
        check: The check: WINDING, ORDER, COMPONENTS, EDGES, OTHER or FACES.

    Returns:
        Index of the frame -> how its faces differ. Empty if the topology changes from frame to frame.

    Raises:
        MeshqcError: A file can't be read any more.
    """
    base = context.series.reference_facts
    if mesh_changes_throughout(context):
        return {}
    others = usable_where(context, lambda facts: same_counts(facts, base) and facts.topology != base.topology)
    changes = {index: context.face_change(index) for index in others if whole_indices(context.series.facts[index])}
    return {index: change for index, change in changes.items() if _reporting_check(context, index, change) == check}


def _reporting_check(context: CheckContext, index: int, change: FaceChange) -> str:
    facts, base = context.series.facts[index], context.series.reference_facts
    if change.kind == "reversed":
        return WINDING
    if change.kind == "renumbered":
        return ORDER
    if change.kind == "reordered":
        return FACES
    if facts.problem("repeated-corner") and not base.problem("repeated-corner"):
        return OTHER  # a face that folds up leaves boundary edges, and `repeated-corners` reports the face
    if change.kind == "reconnected" and facts.components != base.components:
        return COMPONENTS
    if change.kind == "reconnected" and _edges_changed(facts, base) >= change.count:
        return EDGES  # faces with a wrong corner; a different triangulation adds few boundary edges or none
    return OTHER


def changed_places(context: CheckContext, changes: dict[int, FaceChange]) -> tuple[Where, ...]:
    """Return the location of the first different face in the first frame of each distinct topology.

    Only the first few locations are returned.

    Args:
        context: The sequence.
        changes: How the faces of frames differ, by index of the frame.

    Raises:
        MeshqcError: A file can't be read any more.
    """
    firsts = {context.series.facts[index].topology: index for index in reversed(changes)}
    places = []
    for index in sorted(firsts.values())[: limits.PLACES_KEPT]:
        face = changes[index].face
        places.append(Where(context.file_name(index), face_line(context.frame(index), face), f"face {face + 1}"))
    return tuple(places)


def same_counts(facts: FrameFacts, base: FrameFacts) -> bool:
    """Whether a frame has as many vertices and faces as the reference frame, so that no check of counts reports it.

    Args:
        facts: Facts of the frame.
        base: Facts of the reference frame.
    """
    return facts.vertices == base.vertices and facts.faces == base.faces


def edge_counts(facts: FrameFacts) -> tuple[int, int]:
    """Return the numbers of boundary edges (of one face) and of non-manifold edges (of three or more faces)."""
    return facts.boundary_edges, facts.non_manifold_edges


def ending_open(context: CheckContext) -> list[int]:
    """Return the indices of frames whose file seems to be cut off, if the topology changes from frame to frame.

    In such a frame, the surface is open and some vertices have no face. On nearly all frames, the surface is closed,
    and on these frames every vertex has a face.
    """
    facts, opened = context.series.facts, odd_edges(context, lambda facts: facts.boundary_edges)
    if any(one.unused_vertices for index, one in enumerate(facts) if index not in opened):
        return []
    return [index for index in opened if facts[index].unused_vertices]


def _edges_changed(facts: FrameFacts, base: FrameFacts) -> int:
    """Return the sum of the differences from the reference frame in the numbers of boundary and non-manifold edges."""
    return sum(abs(ours - theirs) for ours, theirs in zip(edge_counts(facts), edge_counts(base), strict=True))


def same_surface(context: CheckContext) -> list[int]:
    """Return the indices of frames with the reference frame's faces and the usual vertex order.

    Shapes and normals are meaningful only on these frames. Other checks report frames with different faces.
    """
    exploded = set(exploded_frames(context))
    return [index for index in context.once(_same_faces) if index not in exploded]


def usual_order(context: CheckContext) -> list[int]:
    """Return the indices of frames in which each vertex has its usual number, even if faces differ.

    The motion of vertices is meaningful only on these frames.
    """
    followed = np.flatnonzero(context.series.followed).tolist()
    return sorted({*context.once(_same_faces), *followed} - set(exploded_frames(context)))


def sound_surface(context: CheckContext) -> list[int]:
    """Return the frames of `same_surface`, without the frames of `off_path`.

    On the frames of `off_path`, which other checks report, faces may be bent and torn.
    """
    torn = set(off_path(context))
    return [index for index in same_surface(context) if index not in torn]


def _same_faces(context: CheckContext) -> tuple[int, ...]:
    base = context.series.reference_facts
    return tuple(
        index
        for index in usable(context)
        if same_counts(context.series.facts[index], base) and context.series.facts[index].topology == base.topology
    )


def mirrored_frames(context: CheckContext) -> list[int]:
    """Return the indices of frames whose vertices are mirrored while their faces are not.

    There are two signs: the volume of a closed surface is on the other side of its faces, or a reflection explains the
    step to the frame. If the frame has the reference frame's faces, one sign is enough. If the faces differ, they may
    be mirrored as well, so both signs are required. If the reference frame's surface has no inside, a reflection is
    enough.
    """
    side = side_of(context.series.reference_facts)
    inverted = {index for index, facts in enumerate(context.series.facts) if side_of(facts) == -side != 0}
    reflected, same = set(reflected_frames(context)), set(same_surface(context))
    others = reflected & set(usual_order(context)) - same
    return sorted(same & (reflected | inverted) | (others & inverted if side else others))


def inside_out_frames(context: CheckContext) -> list[int]:
    """Return the indices of frames whose closed surface is inside out, unlike most frames, if the topology changes.

    All faces of such a frame list their vertices in the opposite direction, so the volume is on the other side of the
    faces.
    """
    facts = context.series.facts
    sides = {
        index: side_of(facts[index])
        for index in usable(context)
        if is_closed(facts[index].components, *edge_counts(facts[index]))
    }
    usual = 1 if sum(sides.values()) >= 0 else -1
    found = [index for index, side in sides.items() if side == -usual]
    throughout = mesh_changes_throughout(context)
    return found if throughout and len(found) <= SIDE_SHARE.value * len(sides) else []


def side_of(facts: FrameFacts | Shapes) -> int:
    """Return 1 if the faces point outward, -1 if they point inward, 0 if the surface has no meaningful inside."""
    if abs(facts.volume) <= VOLUME_SHARE.value * facts.area**1.5:
        return 0
    return 1 if facts.volume > 0 else -1


def exploded_frames(context: CheckContext) -> tuple[int, ...]:
    """Return the indices of frames with the reference frame's faces, but far longer edges than neighbouring frames.

    The bounding box of such a frame is about as large as those of its neighbours. The vertices have a different order,
    but the faces were not updated. No motion makes edges so much longer from one frame to the next. A surface that
    stretches needs a larger bounding box, and a surface that crumples keeps the length of its edges. Sudden changes of
    the edges divide the sequence into runs, and each run is compared with the runs beside it.
    """
    return context.once(_exploded_frames)


def _exploded_frames(context: CheckContext) -> tuple[int, ...]:
    series = context.series
    frames = [
        index
        for index in context.once(_same_faces)
        if series.facts[index].edge_length > 0.0 and np.isfinite(series.diagonals[index])
    ]
    if len(frames) < 2:
        return ()
    edges = np.array([series.facts[index].edge_length for index in frames])
    starts = [0, *_leaps(edges, series.diagonals[frames]), len(frames)]
    runs = list(pairwise(starts))
    levels = [float(np.median(edges[start:stop])) for start, stop in runs]
    found: list[int] = []
    for at, (start, stop) in enumerate(runs):
        beside = levels[max(0, at - 1) : at] + levels[at + 1 : at + 2]
        if beside and levels[at] > ORDER_FACTOR.value * min(beside):
            found += frames[start:stop]
    return tuple(found)


def _leaps(edges: Floats, sizes: Floats) -> list[int]:
    """Find rows at which the edge length changes by more than ORDER_FACTOR and the bounding box doesn't explain it."""
    with np.errstate(over="ignore", divide="ignore", invalid="ignore"):
        by_edge = np.abs(np.log(edges[1:] / edges[:-1]))
        by_size = np.abs(np.log(sizes[1:] / sizes[:-1]))
    factor = np.log(ORDER_FACTOR.value)
    leaps: list[int] = (np.flatnonzero((by_edge > factor + by_size) & (by_size < factor)) + 1).tolist()
    return leaps
