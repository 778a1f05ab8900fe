"""Count how many faces of each material cover each cell of a grid over the texture.

The count of a cell is the sum of the faces' winding numbers around the centre of the cell. Every face is treated as
counter-clockwise.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Floats, Indices
from inspector.formats.frame import ABSENT, Corners
from inspector.surface.connections import rings_by_size

Rings = list[tuple[Indices, npt.NDArray[np.integer]]]
"""For each number of corners (size), the faces, (k,), and their UV indices, (k, size)."""

_CHUNK = 1 << 13
"""Number of triangles or quads in one batch (fewer for larger faces), so that their coordinates fit in a core's own
cache."""

CROSSINGS = 1 << 20
"""Approximate number of crossings of sides and rows in one batch (100 MB)."""

_MATERIALS_AT_ONCE = 16
"""Maximum number of materials whose layers the native core counts in one pass over all faces. For a grid of 256 x 256
cells, the counts take 8 MB."""


@dataclass(frozen=True, slots=True, eq=False)
class Ring:
    """Faces with the same number of corners.

    Attributes:
        face: Indices of the faces, (k,).
        u: The u of the s corners of each face, (s, k).
        v: The v of the s corners of each face, (s, k).
    """

    face: Indices
    u: Floats
    v: Floats


@dataclass(frozen=True, slots=True, eq=False)
class Spans:
    """Runs of neighbouring cells in one row that have the same number of layers of one material.

    Attributes:
        first: The first cell of each run, numbered as material * cells**2 + row * cells + column, (s,).
        length: The number of cells in each run, (s,).
        layers: Number of faces that cover each cell of a run, 1 or more, (s,).
    """

    first: Indices
    length: Indices
    layers: Indices

    def cells(self) -> tuple[Indices, Indices]:
        """Return the covered cells, (n,), numbered as in `first`, and the number of layers on each cell, (n,)."""
        before = np.repeat(np.cumsum(self.length) - self.length, self.length)
        return np.repeat(self.first, self.length) + np.arange(len(before)) - before, np.repeat(self.layers, self.length)


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """A grid over a box in UV. Row 0 is at the bottom. An additional column marks the end of each row.

    Attributes:
        box: Smallest u and v, largest u and v, (2, 2).
        cells: Number of cells along each side.
    """

    box: Floats
    cells: int

    def places(self, ring: Ring) -> tuple[Floats, Floats]:
        """Return the x and y of the corners, in cells, (s, k) each."""
        (low_u, low_v), (scale_u, scale_v) = self.box[0], self.scale
        return (ring.u - low_u) * scale_u, (ring.v - low_v) * scale_v

    @property
    def scale(self) -> Floats:
        """Cells per unit of u and v, (2,)."""
        low, high = self.box
        return np.asarray(self.cells / np.where(high > low, high - low, 1.0))

    @property
    def stride(self) -> int:
        """Number of positions per material: one for each cell, and one for the end of each row."""
        return self.cells * (self.cells + 1)


def finite_rings(corners: Corners, uvs: Floats) -> Rings:
    """Group the faces by their number of corners. Faces with a corner that has no finite UV are left out."""
    rings: Rings = rings_by_size(replace(corners, v=corners.vt))
    finite = np.isfinite(uvs[:, 0]) & np.isfinite(uvs[:, 1])
    if finite.all():
        return rings
    good = [finite[ring].all(axis=1) for _, ring in rings]
    return [(faces[keep], ring[keep]) for (faces, ring), keep in zip(rings, good, strict=True)]


def chunks(rings: Rings, uvs: Floats) -> Iterator[Ring]:
    """Yield the UVs of the faces, in batches of a few thousand faces."""
    u, v = np.ascontiguousarray(uvs[:, :2].T)
    for faces, ring in rings:
        many = max(1, min(_CHUNK, _CHUNK * 4 // ring.shape[1]))
        for start in range(0, len(faces), many):
            some = np.ascontiguousarray(ring[start : start + many].T, np.intp)
            yield Ring(faces[start : start + many], u.take(some), v.take(some))


def ring_areas(ring: Ring) -> Floats:
    """Calculate the signed areas of faces in UV, (k,), positive if the corners run counter-clockwise.

    Coordinates are relative to the first corner, so that no digits are lost far from the origin.
    """
    u, v = ring.u[1:] - ring.u[0], ring.v[1:] - ring.v[0]
    areas: Floats = (u[:-1] * v[1:] - u[1:] * v[:-1]).sum(axis=0) / 2.0
    return areas


def layer_spans(corners: Corners, uvs: Floats, material: Indices, box: Floats, cells: int) -> Iterator[Spans]:
    """Yield the covered cells of all materials, in batches. All cells of a material are in one batch.

    Args:
        corners: The faces. Faces with a corner that has no finite UV are left out.
        uvs: The UVs, (m, 2 or 3).
        material: The material of each face, counted from 0, (f,); ABSENT for a face to leave out.
        box: Smallest u and v, largest u and v, (2, 2).
        cells: Number of cells along each side of the box.
    """
    grid = _Grid(box, cells)
    count = int(material.max(initial=-1)) + 1
    if _native.active and count <= _MATERIALS_AT_ONCE and bool(np.isfinite(grid.scale).all()):
        yield _spans(*_native_steps(corners, uvs, material, grid, count), cells)
        return
    rings = finite_rings(corners, uvs)
    for pool in _pools(rings, uvs, material, grid):
        which = np.concatenate([material[faces] for faces, _ in pool])
        single = bool((which == which[0]).all())
        yield _spans(*(_collected if single else _sorted)(pool, uvs, material, grid), cells)


def _spans(place: Indices, weight: Floats, cells: int) -> Spans:
    """Convert steps, the positions at which the number of layers changes, to spans.

    Args:
        place: The position of each step, (s,), ascending.
        weight: The change in the number of layers at each step, (s,).
        cells: Number of cells along each side of the grid.
    """
    layers = np.cumsum(weight).astype(np.int64)  # every row of a material ends with 0 layers
    length = np.diff(place, append=place[-1:])
    covered = (layers > 0) & (length > 0)
    row, column = np.divmod(place[covered], cells + 1)
    return Spans(row * cells + column, length[covered], layers[covered])


def _native_steps(corners: Corners, uvs: Floats, material: Indices, grid: _Grid, count: int) -> tuple[Indices, Floats]:
    """Use the native core to find the steps: their positions, ascending, and the changes in the number of layers."""
    steps = np.zeros(count * grid.stride)
    (low_u, low_v), (scale_u, scale_v) = grid.box[0].tolist(), grid.scale.tolist()
    _native.core.add_layers(
        np.ascontiguousarray(uvs),
        uvs.shape[1],
        np.ascontiguousarray(corners.offsets),
        np.ascontiguousarray(corners.vt),
        np.ascontiguousarray(material, np.int64),
        low_u,
        low_v,
        scale_u,
        scale_v,
        grid.cells,
        steps,
    )
    places = np.flatnonzero(steps)
    return places, steps[places]


def _pools(rings: Rings, uvs: Floats, material: Indices, grid: _Grid) -> Iterator[Rings]:
    """Yield the faces in batches of whole materials: small materials together, each large material alone."""
    several = material.max(initial=-1) > 0
    pool = _pool_of(_crossings(rings, uvs, material, grid)) if several else np.zeros(1, np.int64)
    count = int(pool.max(initial=-1)) + 1
    parts = []
    for faces, ring in rings:
        kept = np.flatnonzero(material[faces] != ABSENT)
        mine = pool[material[faces[kept]]]
        order = np.argsort(mine, kind="stable")
        ends = np.searchsorted(mine[order], np.arange(count + 1))
        parts.append((faces[kept[order]], ring[kept[order]], ends))
    for at in range(count):
        some = [(faces[ends[at] : ends[at + 1]], ring[ends[at] : ends[at + 1]]) for faces, ring, ends in parts]
        if some := [(faces, ring) for faces, ring in some if len(faces)]:
            yield some


def _crossings(rings: Rings, uvs: Floats, material: Indices, grid: _Grid) -> Floats:
    """For each material, count how often the sides of its faces cross a row."""
    count = int(material.max(initial=-1)) + 1
    crossings = np.zeros(count)
    for ring in chunks(rings, uvs):
        row = _rows(grid.places(ring)[1])
        mine = material[ring.face]
        kept = mine != ABSENT
        crossings += np.bincount(mine[kept], np.abs(np.roll(row, -1, axis=0) - row).sum(axis=0)[kept], count)
    return crossings


def _pool_of(crossings: Floats) -> Indices:
    large = crossings > CROSSINGS
    pool = np.where(large, 0.0, crossings).cumsum().astype(np.int64) // CROSSINGS
    pool[large] = pool.max(initial=0) + 1 + np.arange(int(large.sum()))
    return pool


def _collected(pool: Rings, uvs: Floats, material: Indices, grid: _Grid) -> tuple[Indices, Floats]:
    """Find the steps of one material by adding up the changes at every position of the grid."""
    steps = np.zeros(grid.stride)
    (low_u, low_v), (scale_u, scale_v) = grid.box[0].tolist(), grid.scale.tolist()
    native = _native.active and bool(np.isfinite((scale_u, scale_v)).all())
    for ring in chunks(pool, uvs):
        if native:
            _native.core.add_steps(ring.u, ring.v, len(ring.u), low_u, low_v, scale_u, scale_v, grid.cells, steps)
        else:
            for _, place, weight in _steps(ring, grid):
                steps += np.bincount(place, weight, grid.stride)
    places = np.flatnonzero(steps)
    return places + int(material[pool[0][0][0]]) * grid.stride, steps[places]


def _sorted(pool: Rings, uvs: Floats, material: Indices, grid: _Grid) -> tuple[Indices, Floats]:
    """Find the steps of a batch of small materials by sorting the changes by position."""
    none = np.zeros(0, np.int64), np.zeros(0)  # faces on one point or one horizontal line cross no row
    found = [none] + [
        (material[ring.face[face]] * grid.stride + place, weight)
        for ring in chunks(pool, uvs)
        for face, place, weight in _steps(ring, grid)
    ]
    place, weight = (np.concatenate(part) for part in zip(*found, strict=True))
    order = np.argsort(place, kind="stable")
    place, weight = place[order], weight[order]
    first = np.flatnonzero(np.diff(place, prepend=-1))
    changes = np.add.reduceat(weight, first) if len(first) else weight
    return place[first[changes != 0.0]], changes[changes != 0.0]


def _rows(y: Floats) -> Floats:
    """Return, for each corner, the first row whose centre is not below the corner."""
    rows: Floats = np.ceil(y - 0.5)
    return rows


def _steps(ring: Ring, grid: _Grid) -> Iterator[tuple[Indices, Indices, Floats]]:
    """Find the changes in the number of layers. In each row that a side crosses, the number changes at the first cell
    to the right of the side.

    Yields:
        For each change: the face, as an index into the ring; the position; and the change in the number of layers, (n,)
        each.
    """
    x, y = grid.places(ring)
    row = _rows(y)
    rise = np.roll(row, -1, axis=0) - row
    side = np.flatnonzero(rise)
    rise = rise.ravel()[side]
    lowest = row.ravel()[side] + np.minimum(rise, 0.0)
    face = side % x.shape[1]
    turn = np.nan_to_num(np.sign(ring_areas(ring)))  # an area beyond float64 is NaN, and the face covers nothing
    weight = -np.sign(rise) * turn[face]
    for some in _batches(np.abs(rise).astype(np.int64)):
        count = np.abs(rise[some]).astype(np.int64)
        nth = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
        middle = np.repeat(lowest[some], count) + nth + 0.5
        start = np.repeat(side[some], count)
        end = (start + x.shape[1]) % x.size
        x0, y0, x1, y1 = x.ravel()[start], y.ravel()[start], x.ravel()[end], y.ravel()[end]
        # The result is the same for both directions of a side, because the faces on both sides must find the same cell.
        column = np.ceil((x0 * (y1 - middle) + x1 * (middle - y0)) / (y1 - y0) - 0.5)
        place = ((middle - 0.5) * (grid.cells + 1) + np.clip(column, 0, grid.cells)).astype(np.int64)
        yield np.repeat(face[some], count), place, np.repeat(weight[some], count)


def _batches(count: Indices) -> Iterator[slice]:
    """Yield slices of `count`, (n,), that each add up to at most CROSSINGS or have a single entry."""
    ends = np.cumsum(count)
    start = 0
    while start < len(count):
        before = int(ends[start - 1]) if start else 0
        stop = max(start + 1, int(np.searchsorted(ends, before + CROSSINGS, side="right")))
        yield slice(start, stop)
        start = stop
