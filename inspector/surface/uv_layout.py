"""Measure the layout of faces in the texture, from their UVs alone."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector import _native, limits
from inspector.arrays import Floats, Indices
from inspector.formats.frame import Corners
from inspector.surface.shapes import NO_AREA
from inspector.surface.uv_layers import Ring, chunks, finite_rings, layer_spans, ring_areas
from inspector.threshold import Threshold

UV_TILES = Threshold(
    "uv-tiles",
    64,
    "UV coverage and UV overlap are measured only if the UVs extend over at most this many unit squares. If they "
    "extend over more unit squares, the texture is taken to be a repeated pattern.",
    unit="squares",
)

OVERLAP_CELLS = 256
"""Number of cells along each side of the bounding box of all UVs, for measuring overlap. With this many cells, the
overlap is accurate to 0.01, and 90,000 faces take a few milliseconds."""

Box = tuple[float, float, float, float]

COLLAPSED_SHARE = Threshold(
    "collapsed-share",
    0.001,
    "Maximum share of a material's surface that may have no area in the texture. Above this share, the material is "
    "reported. A small share is allowed, because rounding UVs to six decimal places removes the area of a few tiny "
    "faces. The value has a second use: if at most this share of the surface has an area in the texture, the material "
    "is taken to use a palette. Such a material causes only a note, unless all UVs are at one point.",
)


@dataclass(frozen=True, slots=True, eq=False)
class UvLayout:
    """Layout of the faces that have a finite UV at every corner.

    Attributes:
        box: Smallest u and v, largest u and v; None if no face has finite UVs.
        tiles: Number of unit squares in UV that contain the centre of a face's bounding box.
        mirrored: Area of the faces whose corners run clockwise in the texture, as a share of the area of all faces, 0
            to 1.
        overlap: Of the used area of the texture, the share that faces of the same material use more than once, 0 to 1.
            None if the UVs extend over more than UV_TILES squares, if no face has finite UVs, or if the overlap was not
            requested.
        crossing: Faces that cross the border of a unit square, (k,), ascending.
        collapsed: Faces without area in the texture, (k,), ascending.
    """

    box: Box | None
    tiles: int
    mirrored: float
    overlap: float | None
    crossing: Indices
    collapsed: Indices


@dataclass(frozen=True, slots=True, eq=False)
class _Measures:
    """Measurements of the faces that have a finite UV at every corner.

    Attributes:
        faces: Number of these faces.
        box: Smallest u and v, largest u and v, (2, 2).
        area: Total area of the faces in the texture.
        mirrored: Total area of the faces whose corners run clockwise.
        collapsed: Faces without area in the texture, (k,), ascending.
        outside: Faces that extend beyond the unit square by more than `limits.UV_DIFFERENCE`, (k,), ascending.
    """

    faces: int
    box: Floats
    area: float
    mirrored: float
    collapsed: Indices
    outside: Indices


@np.errstate(over="ignore", invalid="ignore")  # overflow affects only coordinates that are out of range
def lay_out(corners: Corners, uvs: Floats, material: Indices | None) -> UvLayout:
    """Measure the UV layout of a frame.

    Args:
        corners: The faces.
        uvs: The UVs, (m, 2 or 3).
        material: The material of each face, counted from 0, (f,), for measuring the overlap; None to skip the overlap.
    """
    found = (_native_measures if _native.active else _numpy_measures)(corners, uvs)
    if not found.faces:
        none = np.zeros(0, np.int64)
        return UvLayout(None, 0, 0.0, None, none, none)
    crossing, tiles = _outside_faces(corners, uvs, found)
    box = found.box
    return UvLayout(
        box=(float(box[0, 0]), float(box[0, 1]), float(box[1, 0]), float(box[1, 1])),
        tiles=tiles,
        mirrored=found.mirrored / found.area if 0.0 < found.area < np.inf else 0.0,
        overlap=None if material is None else _overlap(corners, uvs, box, material),
        crossing=crossing,
        collapsed=found.collapsed,
    )


def _native_measures(corners: Corners, uvs: Floats) -> _Measures:
    flags = np.empty(len(corners.offsets) - 1, np.uint8)
    *box, area, mirrored = _native.core.measure_layout(
        np.ascontiguousarray(uvs),
        uvs.shape[1],
        np.ascontiguousarray(corners.offsets),
        np.ascontiguousarray(corners.vt),
        NO_AREA.value,
        limits.UV_DIFFERENCE.value,
        flags,
    )
    collapsed, outside = np.flatnonzero(flags & 1), np.flatnonzero(flags & 2)
    return _Measures(int(np.count_nonzero(flags)), np.array(box).reshape(2, 2), area, mirrored, collapsed, outside)


def _numpy_measures(corners: Corners, uvs: Floats) -> _Measures:
    none = np.zeros(0, np.int64)
    collapsed, outside, boxes = [none], [none], [np.array([[np.inf] * 2, [-np.inf] * 2])]
    faces, whole, mirrored, rim = 0, 0.0, 0.0, limits.UV_DIFFERENCE.value
    for ring in chunks(finite_rings(corners, uvs), uvs):
        area = ring_areas(ring)
        low, high = _ends(ring)
        extent = (high - low).max(axis=0)
        collapsed.append(ring.face[2.0 * np.abs(area) <= NO_AREA.value * extent * extent])
        boxes.append(np.stack([low.min(axis=1), high.max(axis=1)]))
        if _outside(boxes[-1]):
            outside.append(ring.face[((low < -rim) | (high > 1.0 + rim)).any(axis=0)])
        faces += len(ring.face)
        whole += float(np.abs(area).sum())
        mirrored += float(np.maximum(-area, 0.0).sum())
    box = np.stack([np.min(boxes, axis=0)[0], np.max(boxes, axis=0)[1]])
    return _Measures(faces, box, whole, mirrored, np.sort(np.concatenate(collapsed)), np.sort(np.concatenate(outside)))


def _outside_faces(corners: Corners, uvs: Floats, found: _Measures) -> tuple[Indices, int]:
    """Find the faces that cross the border of a unit square, and count the unit squares that contain the centre of a
    face's bounding box.

    Args:
        corners: The faces.
        uvs: The UVs, (m, 2 or 3).
        found: The measurements of the faces.

    Returns:
        The indices of the faces, (k,), ascending, and the number of unit squares.
    """
    rim = limits.UV_DIFFERENCE.value
    crossing = [np.zeros(0, np.int64)]
    tiles = [np.zeros((2, 1 if found.faces > len(found.outside) else 0))]
    if len(found.outside):
        for ring in chunks(finite_rings(corners.picked(found.outside), uvs), uvs):
            low, high = _ends(ring)
            crossing.append(found.outside[ring.face[(np.floor(high - rim) > np.floor(low + rim)).any(axis=0)]])
            tiles.append(np.unique(np.floor((low + high) / 2.0), axis=1))
    return np.sort(np.concatenate(crossing)), np.unique(np.concatenate(tiles, axis=1), axis=1).shape[1]


def is_outside(box: Box) -> bool:
    """Whether a box extends beyond the unit square by more than `limits.UV_DIFFERENCE`."""
    return _outside(np.array([box[:2], box[2:]]))


def _outside(box: Floats) -> bool:
    rim = limits.UV_DIFFERENCE.value
    return bool(box[0].min() < -rim or box[1].max() > 1.0 + rim)


def _ends(ring: Ring) -> tuple[Floats, Floats]:
    """Return the smallest u and v of each face, (2, k), and the largest u and v of each face, (2, k)."""
    return np.stack([ring.u.min(axis=0), ring.v.min(axis=0)]), np.stack([ring.u.max(axis=0), ring.v.max(axis=0)])


def _overlap(corners: Corners, uvs: Floats, box: Floats, material: Indices) -> float | None:
    if not np.prod(np.floor(box[1]) - np.floor(box[0]) + 1.0) <= UV_TILES.value:
        return None
    used = again = 0
    for spans in layer_spans(corners, uvs, material, box, OVERLAP_CELLS):
        used += int(spans.length.sum())
        again += int(spans.length[spans.layers > 1].sum())
    return again / used if used else 0.0


def uv_areas(corners: Corners, uvs: Floats) -> Floats:
    """Calculate the signed area of each face in the texture.

    Args:
        corners: The faces.
        uvs: The UVs, (m, 2 or 3).

    Returns:
        The areas, (f,), positive if the corners run counter-clockwise; 0 for a face with a corner that has no finite
        UV.
    """
    areas = np.zeros(len(corners.offsets) - 1)
    for ring in chunks(finite_rings(corners, uvs), uvs):
        areas[ring.face] = ring_areas(ring)
    return areas
