"""Measure the shape of every face of a frame, in batches that fit in the cache.

A polygon's area vector is Newell's sum of cross products (Sutherland, Sproull, Schumacker 1974, "A Characterization of
Ten Hidden-Surface Algorithms"); the area vector of a quad is half the cross product of its diagonals.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector import _native
from inspector.arrays import Flags, Floats, Indices
from inspector.formats.frame import ABSENT, Frame
from inspector.surface.connections import Rings, rings_by_size
from inspector.surface.metric import cross, length
from inspector.threshold import Threshold

NO_AREA = Threshold(
    "no-area",
    1e-6,
    "A face counts as having no area if twice its area, divided by the square of its extent, is at most this value. "
    "For a quad, the square of the extent is the mean of the squared lengths of the diagonals. For other faces, it is "
    "the mean of the squared distances from the first corner to the remaining corners. In the texture, the extent is "
    "the longer side of the face's bounding box. For a triangle a million times as long as it is high, the result is "
    "about this value. Rounding positions to six or seven digits can also cause this result for a triangle that is "
    "meant to have no area.",
)

NON_PLANAR = Threshold(
    "non-planar",
    0.4,
    "A face counts as planar if its thickness (the extent of its corners perpendicular to the face), divided by the "
    "square root of its area, is at most this value. Above this value, the normals of the two halves of a square quad "
    "differ by more than 60 degrees, so the diagonal between the halves is visible (computed for a square; the limit "
    "of 60 degrees is common practice, no source).",
)

BENDS_IN = Threshold(
    "bends-in",
    0.05,
    "A face counts as concave if, at a corner that bends inwards, the triangle of this corner and its two neighbours "
    "has more than this share of the face's area. In a face with more than four corners, the area of the largest "
    "triangle of three consecutive corners is used instead of the face's area. A smaller bend is hardly visible.",
)

AGAINST_COSINE = Threshold(
    "against-cosine",
    -0.5,
    "The normals of a face count as pointing to the back if, at both the first corner and the corner halfway around "
    "the face, the cosine of the angle between the face's own normal and the corner's normal is below this value. A "
    "cosine of -0.5 is an angle of 120 degrees. In sharp folds, the angle to smoothed normals is somewhat above 90 "
    "degrees. The angle to wrong normals is close to 180 degrees (common practice, no source).",
)

_KINDS = ("zero_area", "concave", "non_planar", "against")
CHUNK = 1 << 13
"""Number of triangles or quads to measure in one batch (fewer for larger faces), so that their coordinates fit in a
core's own cache."""


@dataclass(frozen=True, slots=True, eq=False)
class Shapes:
    """Shapes of the faces of one frame.

    Attributes:
        edge_length: Mean length of the first sides of the faces, in scene units.
        area: Total area of the faces, in square scene units.
        volume: Signed volume of a closed surface, in cubic scene units, positive if the faces point outward; 0.0 if the
            volume was not measured.
        zero_area: Zero-area faces that use no vertex twice, (k,), ascending.
        concave: Concave faces, (k,), ascending. Only planar faces are judged.
        non_planar: Non-planar faces, (k,), ascending.
        against: Faces whose normals in the file point to the back, (k,), ascending. The back of a face is the side from
            which its corners run clockwise.
    """

    edge_length: float
    area: float
    volume: float
    zero_area: Indices
    concave: Indices
    non_planar: Indices
    against: Indices


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Values of faces with the same number of corners.

    Attributes:
        side: The first side of each face, (3, k).
        double: The area vector of each face, multiplied by 2, (3, k).
        zero_area: Whether each face has zero area, (k,).
        concave: Whether each face is concave, (k,).
        non_planar: Whether each face is non-planar, (k,).
    """

    side: Floats
    double: Floats
    zero_area: Flags
    concave: Flags
    non_planar: Flags


@np.errstate(
    over="ignore", invalid="ignore", divide="ignore"
)  # bad numbers are reported elsewhere and compare as False
def face_shapes(frame: Frame, closed: bool) -> Shapes:
    """Measure the shapes of a frame's faces. Faces with a corner that has no legal vertex are skipped."""
    return _native_shapes(frame, closed) if _native.active else _numpy_shapes(frame, closed)


def _native_shapes(frame: Frame, closed: bool) -> Shapes:
    corners = frame.corners
    thresholds = (NO_AREA.value, NON_PLANAR.value, BENDS_IN.value, AGAINST_COSINE.value)
    flags = np.empty(frame.faces, np.uint8)
    count, sides, area, volume, counts = _native.core.measure_faces(
        frame.positions, frame.normals, corners.offsets, corners.v, corners.vn, closed, thresholds, flags
    )
    parts = {
        name: np.flatnonzero(flags & (1 << bit)) if found else np.zeros(0, np.int64)
        for bit, (name, found) in enumerate(zip(_KINDS, counts, strict=True))
    }
    if len(parts["zero_area"]):
        some = corners.picked(parts["zero_area"])
        order = np.lexsort((some.v, some.face_of_corner()))
        face, vertex = some.face_of_corner()[order], some.v[order]
        twice = face[1:][(face[1:] == face[:-1]) & (vertex[1:] == vertex[:-1])]
        parts["zero_area"] = np.delete(parts["zero_area"], twice)
    return Shapes(sides / max(count, 1), area, volume, **parts)


def _numpy_shapes(frame: Frame, closed: bool) -> Shapes:
    points = np.ascontiguousarray(frame.positions.T)
    origin = points[:, :1]  # relative to a distant origin, the volume would be a small difference of large numbers
    normals = np.ascontiguousarray(frame.normals.T)
    count, sides, area, volume = 0, 0.0, 0.0, 0.0
    found: dict[str, list[Indices]] = {name: [] for name in _KINDS}
    for faces, rings, ring in _chunks(frame, points):
        group = _quads(ring) if len(ring) == 4 else _polygons(ring)
        lengths = np.sqrt(_dot(group.double, group.double))
        count += len(faces)
        sides += float(np.sqrt(_dot(group.side, group.side)).sum())
        area += float(lengths.sum()) / 2.0
        volume += float(_dot(ring[0] - origin, group.double).sum()) / 6.0 if closed else 0.0
        against = _against(frame, normals, faces, group.double, lengths) & ~group.zero_area
        if group.zero_area.any():
            ordered = np.sort(rings, axis=1)
            group.zero_area[(ordered[:, 1:] == ordered[:, :-1]).any(axis=1)] = False
        for name, flags in zip(_KINDS, (group.zero_area, group.concave, group.non_planar, against), strict=True):
            if flags.any():
                found[name].append(faces[flags])
    none = np.zeros(0, np.int64)
    parts = {name: np.sort(np.concatenate([none, *pieces])) for name, pieces in found.items()}
    return Shapes(sides / max(count, 1), area, volume, **parts)


def face_areas(frame: Frame) -> Floats:
    """Calculate the areas of the faces, (f,), in square scene units; 0 for a face with a corner that has no legal
    vertex."""
    areas = np.zeros(frame.faces)
    for faces, _, ring in _chunks(frame, np.ascontiguousarray(frame.positions.T)):
        rays = (ring[1:] - ring[0]).swapaxes(0, 1)
        areas[faces] = length(cross(rays[:, :-1], rays[:, 1:]).sum(axis=1)) / 2.0
    return areas


def _chunks(frame: Frame, points: Floats) -> Iterator[tuple[Indices, Rings, Floats]]:
    """Yield batches of k faces that have the same number s of corners: the faces, (k,), their vertices, (k, s), and
    their points, (s, 3, k).

    The next batch may overwrite the points.
    """
    for faces, rings in rings_by_size(frame.corners):
        size = rings.shape[1]
        many = max(1, min(CHUNK, CHUNK * 4 // size))
        room = np.empty((3, size, min(many, len(faces))))
        for start in range(0, len(faces), many):
            some = rings[start : start + many]
            if len(some) < room.shape[2]:
                room = np.empty((3, size, len(some)))
            points.take(np.ascontiguousarray(some.T, np.intp), axis=1, mode="clip", out=room)
            yield faces[start : start + many], some, room.swapaxes(0, 1)


def _quads(ring: Floats) -> _Group:
    """Judge the shapes of quads, (4, 3, k), from the two diagonals and the first side of each quad."""
    along, across, side = ring[2] - ring[0], ring[3] - ring[1], ring[1] - ring[0]
    double = cross(along, across)
    square = _dot(double, double)
    one, two, both = _dot(along, along), _dot(across, across), _dot(along, across)
    by_one, by_two = _dot(side, along), _dot(side, across)
    first, last = by_one * both - by_two * one, by_one * two - by_two * both
    lowest = np.minimum(np.minimum(first, last), square - np.maximum(first, last))
    zero_area = _is_flat(square, (one + two) / 2.0)
    gap = _dot(side, double)
    non_planar = ~zero_area & (gap * gap > NON_PLANAR.value**2 * square * np.sqrt(square) / 2.0)
    concave = ~zero_area & ~non_planar & (lowest < -BENDS_IN.value * square)
    return _Group(side, double, zero_area, concave, non_planar)


def _polygons(ring: Floats) -> _Group:
    """Judge faces with any number of corners, (s, 3, k)."""
    from_first = ring[1:] - ring[0]
    side = from_first[0]
    rays = from_first.swapaxes(0, 1)
    double = cross(rays[:, :-1], rays[:, 1:]).sum(axis=1)
    square = _dot(double, double)
    reach = _dot(rays, rays).sum(axis=0) / len(from_first)
    zero_area = _is_flat(square, reach)
    if len(ring) == 3:
        none = np.zeros_like(zero_area)
        return _Group(side, double, zero_area, none, none)
    heights = _dot(ring.swapaxes(0, 1), double)
    gap = heights.max(axis=0) - heights.min(axis=0)
    non_planar = ~zero_area & (gap * gap > NON_PLANAR.value**2 * square * np.sqrt(square) / 2.0)
    edges = (np.roll(ring, -1, axis=0) - ring).swapaxes(0, 1)
    turns = _dot(cross(np.roll(edges, 1, axis=1), edges), double)
    concave = ~zero_area & ~non_planar & (turns.min(axis=0) < -BENDS_IN.value * turns.max(axis=0))
    return _Group(side, double, zero_area, concave, non_planar)


def _is_flat(square: Floats, reach: Floats) -> Flags:
    """Whether each face counts as having no area, (k,); False if a number overflows.

    Args:
        square: Square of twice the area of each face, (k,).
        reach: Square of the extent of each face, as described in NO_AREA, (k,).
    """
    least = (NO_AREA.value * reach) ** 2
    zero_area: Flags = (square <= least) & (least < np.inf)
    return zero_area


def _against(frame: Frame, normals: Floats, faces: Indices, double: Floats, lengths: Floats) -> Flags:
    """Whether the normals of each face point to the back of the face, as described in AGAINST_COSINE, (k,)."""
    starts, ends = frame.corners.offsets[faces], frame.corners.offsets[faces + 1]
    against: Flags = np.full(len(faces), normals.shape[1] > 0)
    for corner in (starts, starts + (ends - starts) // 2):
        if not against.any():  # on a sound surface, no face is left after the first corner
            break
        which = frame.corners.vn[corner]
        normal = normals.take(which, axis=1, mode="clip")
        bound = AGAINST_COSINE.value * lengths * np.sqrt(_dot(normal, normal))
        against &= (_dot(normal, double) < bound) & (which != ABSENT)
    return against


def _dot(a: Floats, b: Floats) -> Floats:
    """Calculate the dot products of two arrays of vectors, (3, ...) each.

    einsum is not used, because it rounds a product and a sum in one step on some processors. The results would then
    differ between processors.
    """
    products: Floats = a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
    return products
