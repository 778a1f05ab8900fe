"""For each frame whose faces differ from the reference frame's, choose the one check that reports it.

In this way, each cause is reported once.
"""

from __future__ import annotations

import numpy as np

from inspector import limits
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import mesh_changes_throughout
from inspector.checks.base.exploded import exploded_frames, same_faces
from inspector.checks.base.face_change import FaceChange
from inspector.checks.base.finding import Where
from inspector.checks.base.helpers import usable, usable_where
from inspector.checks.base.off_path import off_path
from inspector.checks.base.renumbered import renumbered_frames
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
    "A closed surface has a meaningful inside only if its volume, divided by its area to the power of 1.5, is above "
    "this value. The largest possible ratio is that of a ball, 0.094. The limit is far below it, because even a square "
    "plate 100 times as wide as it is thick has a meaningful inside, with a ratio of 0.0034.",
)

MIRROR_KEEPS = Threshold(
    "mirror-keeps",
    0.1,
    "A frame counts as mirrored if its volume has the unusual sign (its faces show their backs), but its area and "
    "absolute volume are about as large as usual: each differs by at most this share from that of the nearest frame "
    "with the usual sign. Some difference is allowed, because the object also moves between the two frames.",
    "of the area or volume",
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
    """Find the frames whose faces differ from the reference frame's in the way that this check reports.

    Only frames with as many vertices and faces as the reference frame, and with a vertex at every corner, are compared.

    Args:
        context: The sequence.
        check: Id of the check: WINDING, ORDER, COMPONENTS, EDGES, OTHER or FACES.

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
    """For the first few distinct topologies, return the location of the first different face.

    Each location is in the first frame that has the topology.

    Args:
        context: The sequence.
        changes: Index of a frame -> how the faces of the frame differ from the reference frame's.

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
    """Whether a frame has as many vertices and faces as the reference frame, so that no check of counts reports it."""
    return facts.vertices == base.vertices and facts.faces == base.faces


def edge_counts(facts: FrameFacts) -> tuple[int, int]:
    """Return the number of boundary edges and the number of non-manifold edges.

    A boundary edge belongs to only one face. A non-manifold edge belongs to three or more faces.
    """
    return facts.boundary_edges, facts.non_manifold_edges


def ending_open(context: CheckContext) -> list[int]:
    """Return the indices of frames whose files seem to be cut off.

    In such a frame, the surface is open and some vertices have no face. In nearly all other frames, the surface is
    closed and every vertex has a face. The result is empty if the topology doesn't change from frame to frame.
    """
    facts, opened = context.series.facts, odd_edges(context, lambda facts: facts.boundary_edges)
    if any(one.unused_vertices for index, one in enumerate(facts) if index not in opened):
        return []
    return [index for index in opened if facts[index].unused_vertices]


def _edges_changed(facts: FrameFacts, base: FrameFacts) -> int:
    """Return the sum of the absolute differences from the reference frame in the two numbers of `edge_counts`."""
    return sum(abs(ours - theirs) for ours, theirs in zip(edge_counts(facts), edge_counts(base), strict=True))


def same_surface(context: CheckContext) -> list[int]:
    """Return the indices of the frames of `same_faces` that are not in `exploded_frames` or `renumbered_frames`.

    Shapes and normals are meaningful only in these frames.
    """
    others = {*exploded_frames(context), *renumbered_frames(context)}
    return [index for index in same_faces(context) if index not in others]


def usual_order(context: CheckContext) -> list[int]:
    """Return the indices of frames in which each vertex has its usual index, so that its motion is meaningful."""
    followed = np.flatnonzero(context.series.followed).tolist()
    return sorted({*same_faces(context), *followed} - set(renumbered_frames(context)))


def sound_surface(context: CheckContext) -> list[int]:
    """Return the frames of `same_surface` except those of `off_path`, in which faces may be bent and torn."""
    torn = set(off_path(context))
    return [index for index in same_surface(context) if index not in torn]


def mirrored_frames(context: CheckContext) -> list[int]:
    """Return the indices of frames whose vertices are mirrored while their faces are not.

    There are two indications: the faces point to the unusual side, inward or outward (`_inverted_frames`), and a
    reflection explains the step to the frame. One indication is enough if the frame has the reference frame's faces.
    Otherwise, the faces may be mirrored as well, so both indications are required. If the surface has no inside in most
    frames, the reflection is enough.
    """
    side, inverted = context.once(_inverted_frames)
    reflected, same = set(reflected_frames(context)), set(same_surface(context))
    others = reflected & set(usual_order(context)) - same
    return sorted(same & (reflected | inverted) | (others & inverted if side else others))


def _inverted_frames(context: CheckContext) -> tuple[int, set[int]]:
    """Return the usual result of `side_of`, and the indices of the frames with the opposite result.

    A frame is included only if its area and absolute volume are about as large as those of the nearest frame with the
    usual result, because a reflection keeps both.
    """
    facts = context.series.facts
    sides = np.array([side_of(facts[index]) if usable else 0 for index, usable in enumerate(context.series.usable)])
    side = int(np.sign(sides.sum())) or side_of(context.series.reference_facts)
    usual = np.flatnonzero(sides == side)
    found = set()
    for index in np.flatnonzero(sides == -side).tolist() if side and len(usual) else ():
        here, beside = facts[index], facts[int(usual[np.abs(usual - index).argmin()])]
        changes = (abs(here.area / beside.area - 1.0), abs(here.volume / beside.volume + 1.0))
        if max(changes) <= MIRROR_KEEPS.value:
            found.add(index)
    return side, found


def inside_out_frames(context: CheckContext) -> list[int]:
    """Return the indices of frames whose closed surface is inside out compared with most frames.

    The result is empty if the topology doesn't change from frame to frame, or if more than SIDE_SHARE of the frames
    with a closed surface are inside out.
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
    """Return 1 if the faces point outward, -1 if they point inward, and 0 if the surface has no meaningful inside."""
    if abs(facts.volume) <= VOLUME_SHARE.value * facts.area**1.5:
        return 0
    return 1 if facts.volume > 0 else -1
