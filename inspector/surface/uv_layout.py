"""How faces lie in the texture: what follows from their UVs alone, whatever their places in space.

Signed areas by the shoelace formula. Layers are counted on a grid: a cell is as often covered as the winding numbers of
the faces round its centre add up to, each face taken as running counter-clockwise. Only the sides left of the centre
count for that, so faces are never cut, and a side that two faces share counts for exactly one of them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from inspector import limits
from inspector.formats.frame import Corners, FloatArray
from inspector.surface.arrays import Floats, Indices
from inspector.surface.connections import rings_by_size

Box = tuple[float, float, float, float]
Layers = npt.NDArray[np.int64]
_CHUNK = 1 << 13
"""Quads at a time, and fewer of larger faces: their coordinates fit into a core's own cache."""


@dataclass(frozen=True, slots=True, eq=False)
class UvLayout:
    """Of the faces with a finite UV at every corner. box: least u and v, largest u and v; None without such faces.

    tiles: unit squares of UV that hold a face's middle. mirrored: share of the area in the texture on which corners run
    clockwise. overlap: share of the used texture that faces of one material use more than once; None where UVs go on
    for more than limits.UV_TILES squares. crossing: faces across the border of a unit square, (k,) rising; collapsed:
    faces without area, (k,) rising.
    """

    box: Box | None
    tiles: int
    mirrored: float
    overlap: float | None
    crossing: Indices
    collapsed: Indices


@dataclass(frozen=True, slots=True, eq=False)
class _Ring:
    """Faces (k,) of one size s, and their corners' coordinates (s, k)."""

    face: Indices
    u: Floats
    v: Floats


@np.errstate(over="ignore", invalid="ignore")  # coordinates out of all bounds are told of as such
def lay_out(corners: Corners, uvs: FloatArray, materials: Sequence[Indices]) -> UvLayout:
    """materials: the faces of each material, (k,) rising each, together all faces. uvs (m, 2 or 3)."""
    rings = _finite_rings(corners, uvs)
    none = np.zeros(0, np.int64)
    crossing, collapsed, tiles, boxes = [none], [none], [np.zeros((2, 0))], []
    whole = mirrored = 0.0
    for ring in _chunks(rings, uvs):
        area = _areas(ring)
        low, high = _ends(ring)
        extent = (high - low).max(axis=0)
        collapsed.append(ring.face[np.abs(area) <= limits.NO_AREA * extent * extent])
        boxes.append(np.stack([low.min(axis=1), high.max(axis=1)]))
        if _outside(boxes[-1]):
            rim = limits.UV_DIFFERENCE
            crossing.append(ring.face[(np.floor(high - rim) > np.floor(low + rim)).any(axis=0)])
        tiles.append(np.unique(np.floor((low + high) / 2.0), axis=1) if _outside(boxes[-1]) else np.zeros((2, 1)))
        whole += float(np.abs(area).sum())
        mirrored += float(np.maximum(-area, 0.0).sum())
    if not boxes:
        return UvLayout(None, 0, 0.0, None, none, none)
    box = np.stack([np.min(boxes, axis=0)[0], np.max(boxes, axis=0)[1]])
    return UvLayout(
        box=(float(box[0, 0]), float(box[0, 1]), float(box[1, 0]), float(box[1, 1])),
        tiles=np.unique(np.concatenate(tiles, axis=1), axis=1).shape[1],
        mirrored=mirrored / whole if 0.0 < whole < np.inf else 0.0,
        overlap=_overlap(rings, uvs, box, materials),
        crossing=np.sort(np.concatenate(crossing)),
        collapsed=np.sort(np.concatenate(collapsed)),
    )


def is_outside(box: Box) -> bool:
    """Whether UVs leave the unit square by more than the rounding of their text."""
    return _outside(np.array([box[:2], box[2:]]))


def _outside(box: Floats) -> bool:
    rim = limits.UV_DIFFERENCE
    return bool(box[0].min() < -rim or box[1].max() > 1.0 + rim)


Rings = list[tuple[Indices, npt.NDArray[np.integer]]]


def _finite_rings(corners: Corners, uvs: FloatArray) -> Rings:
    """Faces (k,) of each size with their UV indices (k, size), where all of them lead to finite numbers."""
    rings: Rings = rings_by_size(replace(corners, v=corners.vt))
    finite = np.isfinite(uvs[:, 0]) & np.isfinite(uvs[:, 1])
    if finite.all():
        return rings
    good = [finite[ring].all(axis=1) for _, ring in rings]
    return [(faces[keep], ring[keep]) for (faces, ring), keep in zip(rings, good, strict=True)]


def _chunks(rings: Rings, uvs: FloatArray) -> Iterator[_Ring]:
    u, v = np.ascontiguousarray(uvs[:, :2].T)
    for faces, ring in rings:
        many = max(1, min(_CHUNK, _CHUNK * 4 // ring.shape[1]))
        for start in range(0, len(faces), many):
            some = np.ascontiguousarray(ring[start : start + many].T, np.intp)
            yield _Ring(faces[start : start + many], u.take(some), v.take(some))


def _areas(ring: _Ring) -> Floats:
    """(k,): positive where corners run counter-clockwise; from the first corner, so that no digits get lost far out."""
    u, v = ring.u[1:] - ring.u[0], ring.v[1:] - ring.v[0]
    areas: Floats = (u[:-1] * v[1:] - u[1:] * v[:-1]).sum(axis=0) / 2.0
    return areas


def _ends(ring: _Ring) -> tuple[Floats, Floats]:
    """Least and largest u and v of each face, (2, k) each."""
    return np.stack([ring.u.min(axis=0), ring.v.min(axis=0)]), np.stack([ring.u.max(axis=0), ring.v.max(axis=0)])


def _overlap(rings: Rings, uvs: FloatArray, box: Floats, materials: Sequence[Indices]) -> float | None:
    if not np.prod(np.floor(box[1]) - np.floor(box[0]) + 1.0) <= limits.UV_TILES:
        return None
    used = again = 0
    for faces in materials:
        mine = rings if len(materials) == 1 else _only(rings, faces)
        layers = _layers(mine, uvs, box)
        used += int(np.count_nonzero(layers > 0))
        again += int(np.count_nonzero(layers > 1))
    return again / used if used else 0.0


def _only(rings: Rings, faces: Indices) -> Rings:
    chosen = [np.isin(some, faces, assume_unique=True) for some, _ in rings]
    return [(some[keep], ring[keep]) for (some, ring), keep in zip(rings, chosen, strict=True)]


def layers_of(corners: Corners, uvs: FloatArray, faces: Indices, box: Box) -> Layers:
    """How often these faces cover each cell of a grid over the box, (limits.OVERLAP_CELLS, the same); row 0 is the
    lowest."""
    return _layers(_only(_finite_rings(corners, uvs), faces), uvs, np.array([box[:2], box[2:]]))


def uv_areas(corners: Corners, uvs: FloatArray) -> Floats:
    """Of each face (f,), positive where corners run counter-clockwise in the texture; 0 without a whole set of UVs."""
    areas = np.zeros(len(corners.offsets) - 1)
    for ring in _chunks(_finite_rings(corners, uvs), uvs):
        areas[ring.face] = _areas(ring)
    return areas


def _layers(rings: Rings, uvs: FloatArray, box: Floats) -> Layers:
    cells = limits.OVERLAP_CELLS
    size = np.where(box[1] > box[0], box[1] - box[0], 1.0)
    steps = np.zeros(cells * (cells + 1))
    for ring in _chunks(rings, uvs):
        x, y = (ring.u - box[0, 0]) * (cells / size[0]), (ring.v - box[0, 1]) * (cells / size[1])
        steps += _steps(x, y, np.sign(_areas(ring)), cells)
    return np.cumsum(steps.reshape(cells, cells + 1), axis=1)[:, :cells].round().astype(np.int64)


def _steps(x: Floats, y: Floats, turn: Floats, cells: int) -> Floats:
    """What each side adds to the layers of the cells right of it, at the first of them, in each row that it crosses."""
    row = np.ceil(y - 0.5)  # the first row whose middle is not below the corner
    rise = np.roll(row, -1, axis=0) - row
    side = np.flatnonzero(rise)
    rise = rise.ravel()[side]
    lowest = row.ravel()[side] + np.minimum(rise, 0.0)
    count = np.abs(rise).astype(np.int64)
    nth = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    middle = np.repeat(lowest, count) + nth + 0.5
    start = np.repeat(side, count)
    end = (start + x.shape[1]) % x.size
    x0, y0, x1, y1 = x.ravel()[start], y.ravel()[start], x.ravel()[end], y.ravel()[end]
    # Exactly the same for both directions of a side: the faces beside it must come to the same cell.
    column = np.ceil((x0 * (y1 - middle) + x1 * (middle - y0)) / (y1 - y0) - 0.5)
    place = ((middle - 0.5) * (cells + 1) + np.clip(column, 0, cells)).astype(np.int64)
    weight = np.repeat(-np.sign(rise) * turn[side % x.shape[1]], count)
    steps: Floats = np.bincount(place, weight, cells * (cells + 1)).astype(np.float64, copy=False)
    return steps
