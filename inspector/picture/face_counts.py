"""Count the faces on each pixel of a flat drawing, such as a UV map."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats, Integers
from inspector.picture.fragments import Counts, block_of, in_blocks, pixels_of, unblocked


def coverage(corners: Floats, face: Integers, width: int, height: int) -> Counts:
    """Count the faces on each pixel of a flat drawing.

    Triangles of a concave face may extend beyond the face. There, equal numbers of these triangles run clockwise and
    counter-clockwise and cancel out, so a face is counted only inside its outline. If there is too much to draw
    (FRAGMENTS), faces are counted per block of pixels instead of per pixel.

    Args:
        corners: Corners of the triangles, (t, 3, 2): x and y in pixels.
        face: Index of the face to which each triangle belongs, (t,).
        width: Width in pixels.
        height: Height in pixels.

    Returns:
        The number of faces on each pixel, (height, width).
    """
    block = block_of(corners, width, height)
    few = _coverage(in_blocks(corners, block), face, -(-width // block), -(-height // block))
    return unblocked(few, block, width, height)


def _coverage(corners: Floats, face: Integers, width: int, height: int) -> Counts:
    counts = np.zeros(width * height, np.int64)
    sign = np.sign(np.nan_to_num(twice_areas(corners))).astype(np.int64)
    mixed = np.isin(face, np.intersect1d(face[sign > 0], face[sign < 0]))
    flat = np.concatenate([corners, np.zeros((*corners.shape[:2], 1))], axis=2)
    for pixel, _ in pixels_of(flat[~mixed], width, height):
        counts += np.bincount(pixel, minlength=len(counts))
    counts += _around(flat[mixed], face[mixed], sign[mixed], width, height)
    return counts.reshape(height, width)


def twice_areas(corners: Floats) -> Floats:
    """Compute the doubled signed areas of triangles, (t,): positive for counter-clockwise triangles, with y upward.

    Args:
        corners: Corners of the triangles, (t, 3, 2).
    """
    first, second = (corners[:, 1:] - corners[:, :1]).transpose(1, 2, 0)
    return np.asarray(first[0] * second[1] - first[1] * second[0])


def _around(flat: Floats, face: Integers, sign: Counts, width: int, height: int) -> Counts:
    """Count the faces on each pixel, (width * height,). A face counts if unequal numbers of its triangles run clockwise
    and counter-clockwise there.
    """
    size = width * height
    keys, turns = [np.zeros(0, np.int64)], [np.zeros(0, np.int64)]
    for pixel, triangle in pixels_of(flat, width, height):
        keys.append(face[triangle].astype(np.int64) * size + pixel)
        turns.append(sign[triangle])
    key, place = np.unique(np.concatenate(keys), return_inverse=True)
    turn = np.bincount(place, np.concatenate(turns), minlength=len(key))
    return np.bincount(key[turn != 0.0] % size, minlength=size)
