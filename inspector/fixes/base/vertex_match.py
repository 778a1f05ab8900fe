"""Match the vertices of two frames by connectivity and, where that leaves a choice, by position.

Connectivity distinguishes many vertices (see refinement.py). Where it doesn't, such as under the rotations of a sphere,
position decides: a vertex that moves by less than half the distance to the next vertex of its kind is nearest to
itself. Each vertex that is decided helps to distinguish its neighbours, and so on, until all are decided or nothing
more can be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.fixes.base.nearest import nearest_alike, spacing_alike
from inspector.fixes.base.refinement import Colours, Refinement, classes_of, mixed
from inspector.formats.frame import Corners, Frame
from inspector.surface.components import connected
from inspector.surface.edges import next_corner

_OWN = np.uint64(1) << np.uint64(40)
"""A number above all vertex numbers. Added to a vertex number, it gives a colour that only that vertex has."""


@dataclass(frozen=True, slots=True, eq=False)
class Match:
    """The frame's vertex for each vertex of the reference.

    Attributes:
        order: The frame's vertex for each of the reference's, (n,); None if not all are decided.
        ambiguous: The number of vertices that are not decided.
        connected_alike: Whether the faces of both frames connect their vertices in the same way.
    """

    order: Indices | None
    ambiguous: int
    connected_alike: bool = True


@dataclass(frozen=True, slots=True, eq=False)
class Course:
    """The positions of the reference's vertices near the frame in time.

    Attributes:
        places: Positions, (n, 3), scene units.
        motion: How far each vertex may have moved since, at the pace of the good frames around it, (n,), scene units.
    """

    places: Floats
    motion: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Reference:
    """The frame that has the order to match.

    Attributes:
        corners: Its faces, all with three corners or more.
        connections: How they connect its vertices.
        colours: The colours that the connectivity alone gives.
    """

    corners: Corners
    connections: Refinement
    colours: Colours

    @classmethod
    def of(cls, frame: Frame) -> Reference:
        """The frame as a reference, for any number of matches."""
        connections = Refinement(frame.corners, len(frame.positions))
        return cls(frame.corners, connections, connections.plain())


def match_vertices(reference: Reference, course: Course, frame: Frame) -> Match:
    """Find the frame's vertex for each of the reference's.

    Both frames must have equally many vertices, finite positions, and only faces with three corners or more.

    Args:
        reference: The frame that has the order to match.
        course: The positions of its vertices near the frame in time.
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
    """The frame's vertex for each of the reference's, -1 where it could not be decided."""
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
            break  # positions and connectivity contradict each other, so nothing more can be decided
        order = _singles(ours, theirs)
    return order


def _singles(ours: Colours, theirs: Colours) -> Indices:
    """For vertices whose colour no other vertex has, the other mesh's vertex of that colour; otherwise -1."""
    _, first, uses = np.unique(ours, return_index=True, return_counts=True)
    _, partner = np.unique(theirs, return_index=True)
    order = np.full(len(ours), -1)
    order[first[uses == 1]] = partner[uses == 1]
    return order


def _by_place(
    ours: Colours, theirs: Colours, order: Indices, course: Course, positions: Floats
) -> tuple[Indices, Indices]:
    """Vertices of the reference that share a colour and are matched by position alone, and their matches in the
    frame."""
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
    # Vertices that are farthest from others of their kind are decided first: no wrong vertex comes near by chance.
    first = spacing[here] >= spacing[here].max(initial=0.0) / 2.0
    return open_here[here[first]], open_there[near[first]]


def _doubtful_pieces(corners: Corners, doubtful: Flags, open_to_doubt: Flags) -> Flags:
    """Vertices, (n,), of components on which most positions decide nothing, so that another answer would fit as well.

    Another answer moves all but a few vertices of a component: a rotation of a connected surface fixes at most two
    points.
    """
    links = np.stack([corners.v, corners.v[next_corner(corners)]], axis=-1).astype(np.int64)
    piece = connected(len(doubtful), links)
    doubts = np.bincount(piece, doubtful)
    asked = np.bincount(piece, open_to_doubt)
    unsure: Flags = (doubts > asked / 2.0)[piece]
    return unsure
