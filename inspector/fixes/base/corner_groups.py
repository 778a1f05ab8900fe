"""Group the corners that share a normal: corners at the same vertex whose faces are connected by soft edges."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from inspector.arrays import Flags, Floats, Indices, SmallIndices
from inspector.formats.frame import Frame
from inspector.surface.components import connected
from inspector.surface.edges import edges_of, next_corner

_OFF = (b"0", b"off")

_Soft = Callable[[SmallIndices, SmallIndices], Flags]
"""Receives the indices of the two faces at each edge, (e,) and (e,), and returns whether each edge is soft, (e,)."""


def all_soft(frame: Frame) -> Indices:
    """Return the group of each corner, (c,), in a mesh whose edges are all soft: one group per vertex."""
    return np.unique(frame.corners.v, return_inverse=True)[1].reshape(-1).astype(np.int64)


def by_angle(frame: Frame, facing: Floats, degrees: float) -> Indices:
    """Return the group of each corner, (c,). The edges between faces that meet at a large angle are hard.

    Args:
        frame: The frame.
        facing: Unit normals of the faces, (f, 3).
        degrees: Largest angle between the normals of two faces at a soft edge.
    """
    least = np.cos(np.radians(degrees))
    return _grouped(frame, lambda one, other: np.einsum("ei,ei->e", facing[one], facing[other]) >= least)


def by_smoothing(frame: Frame) -> Indices:
    """Return the group of each corner, (c,). Only edges between faces in the same smoothing group are soft.

    All edges of a face are hard if the face has no smoothing group, or if the group is 0 or `off`. Source: the OBJ
    format document ("Appendix B1", version 3.0), `s group_number`.
    """
    names = [run.smoothing for run in frame.runs]
    numbers = {name: number for number, name in enumerate(dict.fromkeys(names))}
    group = np.array([-1 if name is None or name.raw in _OFF else numbers[name] for name in names], np.int64)
    of_face = np.repeat(group, [run.stop - run.start for run in frame.runs])
    return _grouped(frame, lambda one, other: (of_face[one] == of_face[other]) & (of_face[one] >= 0))


def _grouped(frame: Frame, soft: _Soft) -> Indices:
    corners = frame.corners
    edges, following = edges_of(corners, corners.v), next_corner(corners)
    same = np.flatnonzero(edges.edge[1:] == edges.edge[:-1])
    same = same[soft(edges.face[same], edges.face[same + 1])]
    start, other = edges.side[same], edges.side[same + 1]
    end, other_end = following[start], following[other]
    along = corners.v[start] == corners.v[other]  # both faces list the edge's vertices in the same order
    links = [
        np.stack([start, np.where(along, other, other_end)], axis=-1),
        np.stack([end, np.where(along, other_end, other)], axis=-1),
    ]
    return connected(len(corners.v), np.concatenate(links))
