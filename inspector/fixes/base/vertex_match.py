"""Match the vertices of two frames by connectivity and, if several vertices have the same connectivity, by position.

Vertices with the same connectivity have the same colour (see refinement.py). A vertex with a unique colour is matched
by its colour. Any other vertex is matched by position, if it moved by less than half the distance to the nearest other
vertex with its colour. Matched vertices get new, unique colours, which help to distinguish their neighbours; then both
steps are repeated for as long as they match further vertices.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.formats.frame import Corners, Frame
from inspector.surface.components import connected
from inspector.surface.edges import next_corner
from inspector.surface.nearest import nearest_alike, spacing_alike
from inspector.surface.refinement import Colours, Refinement, classes_of, mixed

_OWN = np.uint64(1) << np.uint64(40)
"""A number above all vertex numbers. From its sum with a vertex number, `mixed` makes a colour that no other vertex
has."""


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """The result of matching a frame's vertices to those of the reference frame.

    Attributes:
        order: The frame's vertex for each vertex of the reference frame, (n,); None unless all vertices are matched
            with certainty.
        ambiguous: Number of vertices that are not matched with certainty; 0 if `connected_alike` is false.
        connected_alike: Whether the faces of both frames connect their vertices in the same way.
    """

    order: Indices | None
    ambiguous: int
    connected_alike: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """Positions in the intact frame that is nearest in time to the frame to match.

    Attributes:
        places: Positions of the vertices, (n, 3), in scene units, in the order of the reference frame.
        motion: Estimated distance that each vertex may have moved between the two frames, (n,), in scene units.
    """

    places: Floats
    motion: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """The reference frame, prepared for matching frames with it.

    Attributes:
        corners: Faces of the reference frame, all with three corners or more.
        connections: Connectivity of the vertices.
        colours: Colour of each vertex, (n,). Vertices with the same connectivity have the same colour.
    """

    corners: Corners
    connections: Refinement
    colours: Colours

    @classmethod
    def of(cls, frame: Frame) -> Reference:
        """Prepare a frame whose faces all have three corners or more."""
        connections = Refinement(frame.corners, len(frame.positions))
        return cls(frame.corners, connections, connections.plain())


def match_vertices(reference: Reference, course: Course, frame: Frame) -> Match:
    """Match the frame's vertices to those of the reference frame.

    Both frames must have the same number of vertices, finite positions, and only faces with three corners or more.

    Args:
        reference: The reference frame.
        course: Positions in the intact frame that is nearest in time to `frame`.
        frame: The frame.
    """
    theirs = Refinement(frame.corners, len(frame.positions))
    colours, others = reference.colours, theirs.plain()
    if not np.array_equal(np.sort(colours), np.sort(others)):
        return Match(None, 0, connected_alike=False)
    spacing, _ = spacing_alike(course.places, classes_of(colours))
    order = _follow((reference.connections, theirs), (colours, others), course, frame.positions)
    known = order >= 0
    moved = np.where(known, np.linalg.norm(frame.positions[order] - course.places, axis=1), 0.0)
    doubtful = (spacing < np.inf) & (np.maximum(moved, course.motion) >= spacing / 2.0)
    unsure = ~known | (doubtful & _doubtful_pieces(reference.corners, doubtful, spacing < np.inf))
    return Match(None if unsure.any() else order, int(unsure.sum()))


def _follow(
    meshes: tuple[Refinement, Refinement], colours: tuple[Colours, Colours], course: Course, positions: Floats
) -> Indices:
    """Match vertices by connectivity and position until no further vertex can be matched.

    Returns:
        The frame's vertex for each vertex of the reference frame, (n,); -1 if the vertex can't be matched.
    """
    ours, theirs = colours
    order = _singles(ours, theirs)
    while (order < 0).any():
        sure, partner = _by_place(ours, theirs, order, course, positions)
        if not len(sure):
            break
        name = mixed(sure.astype(np.uint64) + _OWN)
        ours, theirs = ours.copy(), theirs.copy()
        ours[sure], theirs[partner] = name, name
        ours, theirs = meshes[0].refined(ours), meshes[1].refined(theirs)
        if not np.array_equal(np.sort(ours), np.sort(theirs)):
            break  # positions and connectivity contradict each other, so no further vertex can be matched
        order = _singles(ours, theirs)
    return order


def _singles(ours: Colours, theirs: Colours) -> Indices:
    """Match the vertices whose colour is unique in their frame.

    Return the frame's vertex for each vertex of the reference frame, (n,); -1 if its colour isn't unique.
    """
    _, first, uses = np.unique(ours, return_index=True, return_counts=True)
    _, partner = np.unique(theirs, return_index=True)
    order = np.full(len(ours), -1)
    order[first[uses == 1]] = partner[uses == 1]
    return order


def _by_place(
    ours: Colours, theirs: Colours, order: Indices, course: Course, positions: Floats
) -> tuple[Indices, Indices]:
    """Match vertices that share a colour, by position alone. Return the matching vertices of the two frames, (k,)
    each."""
    kinds = np.unique(np.concatenate([ours, theirs]), return_inverse=True)[1].reshape(-1).astype(np.int64)
    kind, kind_there = kinds[: len(ours)], kinds[len(ours) :]
    open_here = np.flatnonzero(order < 0)
    open_there = np.flatnonzero(np.bincount(kind)[kind_there] > 1)
    spacing, shared = spacing_alike(course.places[open_here], kind[open_here])
    within = np.zeros(int(kinds.max()) + 1)
    np.maximum.at(within, kind[open_here], np.where(np.isfinite(spacing), spacing / 2.0, 0.0))
    found, far = nearest_alike(
        course.places[open_here], kind[open_here], positions[open_there], kind_there[open_there], within
    )
    near = np.flatnonzero(found >= 0)
    here = found[near]
    held = ~shared[here] & (np.maximum(far[near], course.motion[open_here[here]]) < spacing[here] / 2.0)
    near, here = near[held], here[held]
    alone = np.bincount(here, minlength=len(open_here))[here] == 1
    near, here = near[alone], here[alone]
    # Vertices that are farthest from others of their kind are matched first: no wrong vertex is near them by chance.
    first = spacing[here] >= spacing[here].max(initial=0.0) / 2.0
    return open_here[here[first]], open_there[near[first]]


def _doubtful_pieces(corners: Corners, doubtful: Flags, open_to_doubt: Flags) -> Flags:
    """Return whether each vertex is in a component in which more than half of the ambiguous vertices are doubtful,
    (n,).

    Such a component may have been rotated onto itself. A vertex is ambiguous (`open_to_doubt`) if another vertex has
    the same connectivity, and doubtful if it may have moved too far to be identified by its position.
    """
    links = np.stack([corners.v, corners.v[next_corner(corners)]], axis=-1).astype(np.int64)
    piece = connected(len(doubtful), links)
    doubts = np.bincount(piece, doubtful)
    asked = np.bincount(piece, open_to_doubt)
    unsure: Flags = (doubts > asked / 2.0)[piece]
    return unsure
