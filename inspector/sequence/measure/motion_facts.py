"""Describe the movement of a frame's vertices in a few numbers.

If vertices can't be followed from the previous frame, properties of the surface are measured instead of displacements.
"""

from __future__ import annotations

import threading
import weakref
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Floats, SmallIndices
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.surface.edges import next_corner
from inspector.surface.moments import Moments, moments

SAMPLED_VERTICES = 64
"""Maximum number of vertices whose positions are kept for every frame (1.5 KB per frame)."""


@dataclass(frozen=True, slots=True)
class Leap:
    """The vertex that represents a movement (`leap`, `tear`) or the relief of a surface (`bump`).

    Attributes:
        vertex: Index from 0. In a `leap`, the vertex that moved farthest; in a `bump`, the vertex farthest from the
            surrounding surface; in a `tear`, the first of the vertices that `alike` counts, so that the same vertex
            represents a group that leaps out and back.
        displacement: In a `leap`, the displacement (x, y, z) since the previous frame, in scene units. In a `tear`,
            this displacement minus the mean displacement of the vertex's neighbours. In a `bump`, the offset of the
            vertex from the mean position of its neighbours, minus the mean of the offsets computed in the same way for
            the neighbours.
        alike: Number of vertices, including this one, whose distance (the length of `displacement`) is at least a
            certain fraction of the largest distance: half in a `leap`, `TORN_ALIKE` in a `tear` or a `bump`.
    """

    vertex: int
    displacement: tuple[float, float, float]
    alike: int


TORN_ALIKE = 0.7
"""In a `tear` or a `bump`, `Leap.alike` counts a vertex if its distance is at least this fraction of the largest
distance. The four neighbours of a still vertex (`_beside`) may include the same leaping vertex twice. The still vertex
then has a fraction of 1/2, and must not count. The inner vertices of a leaping strip of quads have a fraction of 2/3.
If the limit were 2/3, rounding would decide whether they count."""


@dataclass(frozen=True, slots=True)
class Movement:
    """The movement of a frame. Each field becomes the field of FrameFacts that has the same name.

    Attributes:
        step: Mean distance that a vertex moved, in scene units; None if it is not known.
        still: Whether no vertex moved.
        leap: The vertex that moved farthest; None if no vertex moved, or if `step` is None.
        tear: The vertex that moved farthest relative to its neighbours. None if no vertex moved relative to its
            neighbours, if there are no faces, or if the distance can't be measured.
        roughness: Roughness of the surface, in scene units. None if vertices can be followed from the previous frame,
            or if the roughness can't be measured.
        bump: The vertex that is farthest from the surrounding surface; None if `roughness` is None.
        moments: Distribution of the surface's area. None if vertices can be followed from the previous frame, or if the
            distribution can't be measured.
    """

    step: float | None = None
    still: bool = False
    leap: Leap | None = None
    tear: Leap | None = None
    roughness: float | None = None
    bump: Leap | None = None
    moments: Moments | None = None


def movement(frame: Frame, before: Frame | None) -> Movement:
    """Measure how a frame has moved since the previous frame. For the first frame, or if vertex counts differ,
    properties of the surface are measured instead. Values that can't be measured are None."""
    if before is None or before.positions.shape != frame.positions.shape:
        roughness, bump = _roughness(frame.positions, frame.corners)
        return Movement(roughness=roughness, bump=bump, moments=moments(frame))
    if not len(frame.positions):
        return Movement()
    if before.positions is frame.positions:
        return Movement(0.0, still=True)
    with np.errstate(all="ignore"):  # a distance beyond float64 can't be compared
        distances, vertex, alike = _motion(frame.positions, before.positions)
        step = float(np.float64(distances) / len(frame.positions))
    if not np.isfinite(step):
        return Movement()
    if step == 0.0:
        return Movement(step, still=True)
    tear = _tear(frame.positions, before.positions, frame.corners)
    x, y, z = (frame.positions[vertex] - before.positions[vertex]).tolist()
    return Movement(step, False, Leap(vertex, (x, y, z), alike), tear)


def _motion(positions: Floats, before: Floats) -> tuple[float, int, int]:
    """Return three values: the sum, in scene units, of the distances that vertices moved; the vertex that moved
    farthest; and the number of vertices (including this one) that moved at least half as far."""
    if _native.active:
        return _native.core.measure_motion(positions, before)
    x, y, z = (positions - before).T
    squares = x * x + y * y + z * z
    farthest = int(squares.argmax()) if len(squares) else 0
    alike = np.count_nonzero(squares >= squares[farthest] / 4.0) if len(squares) else 0
    return float(np.sqrt(squares).sum()), farthest, int(alike)


def _tear(positions: Floats, before: Floats, corners: Corners) -> Leap | None:
    """Return the vertex that represents the largest movement of any vertex relative to its neighbours (see `Leap`).

    None if there are no faces, no vertex moved relative to its neighbours, or a number is out of range.
    """
    if not len(corners.v):
        return None
    beside = _beside(corners, len(positions))
    if _native.active:
        first, *displacement, largest, alike = _native.core.measure_tear(positions, before, beside, TORN_ALIKE**2)
    else:
        with np.errstate(all="ignore"):
            # One axis after the other: gathering single numbers is faster than gathering rows of three.
            against = [
                _against_mean(displacement, beside) for displacement in np.ascontiguousarray((positions - before).T)
            ]
            x, y, z = against
            squares = x * x + y * y + z * z
            largest = float(squares.max())
            leaping = squares >= TORN_ALIKE**2 * largest
            first = int(leaping.argmax())
            displacement, alike = [float(axis[first]) for axis in against], int(np.count_nonzero(leaping))
    if not 0.0 < largest < np.inf:
        return None
    return Leap(first, (displacement[0], displacement[1], displacement[2]), alike)


def _roughness(positions: Floats, corners: Corners) -> tuple[float | None, Leap | None]:
    """Measure how rough the surface is.

    For each vertex that is not at a boundary, the offset from the mean of its neighbours is compared with the mean of
    the neighbours' own offsets. On a smooth surface, the two are nearly equal.

    Returns:
        The median length of the difference between a vertex's offset and the mean of its neighbours' offsets, in scene
        units, and the vertex with the largest difference. Both are None if no vertex is surrounded by faces, or if a
        value is not finite.
    """
    start, end = corners.v, corners.v[next_corner(corners)]
    whole = (start != ABSENT) & (end != ABSENT)
    start, end, count = start[whole], end[whole], len(positions)
    # Around a vertex that is not at a rim, each neighbour follows the vertex in one face and precedes it in another.
    inside = np.bincount(start, end, count) == np.bincount(end, start, count)
    inside[np.bincount(start, minlength=count) == 0] = False
    if not inside.any():
        return None, None
    within = inside[start] & inside[end]
    passes = [_Around(start, end, count), _Around(start[within], end[within], count)]
    off = np.empty((3, count))
    with np.errstate(all="ignore"):
        for axis, own in zip(off, positions.T, strict=True):  # one at a time: a large mesh has millions of vertices
            axis[:] = passes[1].less_mean(passes[0].less_mean(np.ascontiguousarray(own)))
        away = np.sqrt(off[0] * off[0] + off[1] * off[1] + off[2] * off[2])
        away[~inside] = 0.0
        rough, farthest = float(np.median(away[inside])), int(away.argmax())
    if not np.isfinite(away[farthest]):
        return None, None
    x, y, z = off[:, farthest].tolist()
    return rough, Leap(farthest, (x, y, z), int(np.count_nonzero(away >= TORN_ALIKE * away[farthest])))


class _Around:
    """Subtracts from the value of each vertex the mean value of the vertex's neighbours.

    Args:
        vertex: Index of the vertex in each pair of a vertex and one of its neighbours, (k,).
        neighbour: Index of the neighbour in each pair, (k,).
        count: Number of vertices.
    """

    def __init__(self, vertex: SmallIndices, neighbour: SmallIndices, count: int) -> None:
        self.vertex, self.neighbour = vertex, neighbour
        self.shares = 1.0 / np.maximum(np.bincount(vertex, minlength=count), 1)

    def less_mean(self, values: Floats) -> Floats:
        """Return the values of all vertices, (n,), minus the means of their neighbours' values."""
        sums = np.bincount(self.vertex, values.take(self.neighbour), len(values))
        return np.asarray(values - self.shares * sums)


Beside = npt.NDArray[np.int32]


def _against_mean(displacement: Floats, beside: Beside) -> Floats:
    """Return each vertex's displacement along one axis, minus the mean displacement of its neighbours, (n,)."""
    around = displacement.take(beside[:, 0])
    for others in beside[:, 1:].T:
        around += displacement.take(others)
    around *= 0.25
    return np.subtract(displacement, around, out=around)


class _Latest(threading.local):
    """The neighbours that were found last. They are kept because consecutive frames usually have the same faces."""

    corners: weakref.ref[npt.NDArray[np.int32]] | None = None
    beside: Beside = np.empty((0, 4), np.int32)


_latest = _Latest()


def _beside(corners: Corners, count: int) -> Beside:
    """Return the indices of four neighbours of each vertex, (count, 4), for a mesh of `count` vertices.

    The neighbours are the vertices just after and just before the vertex, in the first and in the last of the faces
    that contain the vertex. A vertex that no face uses is its own neighbour.
    """
    known = _latest.corners() if _latest.corners is not None else None
    if known is corners.v and len(_latest.beside) == count:
        return _latest.beside
    if _native.active:
        beside = np.empty((count, 4), np.int32)
        _native.core.find_neighbours(*corners.packed(), beside)
    else:
        start, end = corners.v, corners.v[next_corner(corners)]
        whole = (start != ABSENT) & (end != ABSENT)
        sides = np.stack([start[whole], end[whole]])
        beside = np.repeat(np.arange(count, dtype=np.int32)[:, None], 4, axis=1)
        for pair, (vertices, others) in enumerate((sides, sides[::-1])):
            beside[vertices, 2 * pair] = others
            beside[vertices[::-1], 2 * pair + 1] = others[::-1]
    _latest.corners, _latest.beside = weakref.ref(corners.v), beside
    return beside


def sample(frame: Frame) -> bytes:
    """Return the positions of the sampled vertices, (s, 3) float64, as bytes."""
    return np.ascontiguousarray(frame.positions[sampled(len(frame.positions))], "<f8").tobytes()


def sample_positions(data: bytes) -> Floats:
    """Convert the bytes from `sample` to positions, (s, 3)."""
    return np.frombuffer(data, "<f8").reshape(-1, 3)


def sample_relief(frame: Frame) -> bytes:
    """Return the offsets of the sampled vertices from the means of their neighbours, (s, 3) float32, as bytes.

    If the surface moves, bends or stretches, the offsets change far less than the positions. The result is b"" if there
    are no faces.
    """
    if not len(frame.corners.v):
        return b""
    chosen = sampled(len(frame.positions))
    beside = _beside(frame.corners, len(frame.positions))[chosen]
    with np.errstate(all="ignore"):  # a number beyond float32 can't be compared
        relief = frame.positions[chosen] - frame.positions[beside].mean(axis=1)
        return np.ascontiguousarray(relief, "<f4").tobytes()


def relief_offsets(data: bytes) -> Floats:
    """Convert the bytes from `sample_relief` to offsets, (s, 3) float64."""
    return np.frombuffer(data, "<f4").reshape(-1, 3).astype(float)


@lru_cache(maxsize=64)
def sampled(count: int) -> npt.NDArray[np.intp]:
    """Return the indices of the vertices that represent all `count` vertices of a mesh, (s,), ascending and read-only.

    If there are at most SAMPLED_VERTICES vertices, all are chosen. Otherwise, the indices are multiples of the golden
    ratio modulo 1, scaled to `count` (Weyl 1916, equidistribution modulo 1). Their spacing is irregular. If the
    vertices form a grid, the chosen vertices are therefore spread over its columns.
    """
    if count <= SAMPLED_VERTICES:
        chosen = np.arange(count)
    else:
        turns = np.arange(SAMPLED_VERTICES) * ((np.sqrt(5.0) - 1.0) / 2.0) % 1.0
        chosen = np.unique((turns * count).astype(np.intp))
    chosen.setflags(write=False)
    return chosen
