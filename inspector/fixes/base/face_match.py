"""Match the faces of two frames whose vertices are already matched."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Indices
from inspector.fixes.base.faces import run_of_face
from inspector.formats.frame import Corners, Frame
from inspector.surface.connections import from_lowest, rings_by_size


def corners_alike(reference: Frame, frame: Frame, order: Indices) -> Indices | None:
    """Find the frame's corner for each corner of the reference frame.

    A run is a list of consecutive faces with the same states, such as the material. The frames match if each run has
    the same faces in both frames, in any order and with any corner first.

    Args:
        reference: The reference frame.
        frame: The frame.
        order: The frame's vertex for each vertex of the reference frame, (n,).

    Returns:
        Index of the frame's corner for each corner of the reference frame, (c,); None if the frames don't match.
    """
    number = np.empty(len(order), np.int32)
    number[order] = np.arange(len(order), dtype=np.int32)
    theirs = frame.corners
    renamed = Corners(theirs.offsets, number[theirs.v], theirs.vt, theirs.vn)
    found = np.full(len(reference.corners.v), -1)
    ours = dict(_sorted_by_size(reference.corners, run_of_face(reference)))
    for size, (faces, rings, start) in _sorted_by_size(renamed, run_of_face(frame)):
        if size not in ours or not np.array_equal(ours[size][1], rings):
            return None
        own, _, own_start = ours[size]
        turn = np.arange(size)
        at = reference.corners.offsets[own][:, None] + (own_start[:, None] + turn) % size
        found[at] = theirs.offsets[faces][:, None] + (start[:, None] + turn) % size
    whole = bool((found >= 0).all()) and np.array_equal(renamed.v[found], reference.corners.v)
    return found if whole else None


def _sorted_by_size(corners: Corners, runs: Indices) -> list[tuple[int, tuple[Indices, Indices, Indices]]]:
    """Group faces by their number of corners k, and sort each group by run and vertices.

    Returns:
        For each k, three arrays with one row for each of the s faces: the index of the face, (s,); its run and its
        vertices in order, beginning with the lowest vertex index, (s, 1 + k); and the position, in the face, of the
        vertex with the lowest index, (s,).
    """
    groups = []
    for faces, rings in rings_by_size(corners):
        rows = np.column_stack([runs[faces], from_lowest(rings)])
        order = np.lexsort(rows.T[::-1])
        groups.append((rings.shape[1], (faces[order], rows[order], rings.argmin(axis=1)[order])))
    return groups
