"""How the vertices of one frame moved, in few numbers: the mean, the farthest of all, the one that tore itself farthest
from its neighbours, and a fixed sample of places."""

from __future__ import annotations

import threading
import weakref
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Floats
from inspector.formats.frame import ABSENT, Corners, Frame
from inspector.surface.edges import next_corner

SAMPLED_VERTICES = 64
"""Vertices whose places are kept of every frame, 1.5 KB: what a twentieth of a surface does is seen by one of them at
least in 96 of 100 cases, 1 - 0.95^64."""


@dataclass(frozen=True, slots=True)
class Leap:
    """The vertex that moved farthest since the frame before, or that stands for those that tore themselves farthest
    from their neighbours.

    Attributes:
        vertex: Counted from 0. Of those that tore themselves about as far it is the first, so that several that leap
            out and back together are known by one number on both frames.
        way: Its displacement (x, y, z), against the mean of its neighbours where it tore itself from them, scene units.
        alike: How many vertices moved about as far, itself included: half as far, or `TORN_ALIKE` of it against their
            neighbours.
    """

    vertex: int
    way: tuple[float, float, float]
    alike: int


TORN_ALIKE = 2.0 / 3.0
"""A vertex that leaps takes half of its distance off a neighbour that it is both neighbours of."""


@dataclass(frozen=True, slots=True)
class Movement:
    """See the fields of FrameFacts that have these names."""

    step: float | None = None
    still: bool = False
    leap: Leap | None = None
    tear: Leap | None = None


def movement(frame: Frame, before: Frame | None) -> Movement:
    """How `frame` moved since the frame before; nothing where vertex counts differ or are 0, or a number is bad."""
    if before is None or not len(frame.positions) or before.positions.shape != frame.positions.shape:
        return Movement()
    if before.positions is frame.positions:
        return Movement(0.0, still=True)
    with np.errstate(all="ignore"):  # a way beyond what a float64 holds is none that can be compared
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
    """The sum of all ways, the vertex with the longest, and how many are at least half as long."""
    if _native.active:
        return _native.core.measure_motion(positions, before)
    x, y, z = (positions - before).T
    squares = x * x + y * y + z * z
    farthest = int(squares.argmax()) if len(squares) else 0
    alike = np.count_nonzero(squares >= squares[farthest] / 4.0) if len(squares) else 0
    return float(np.sqrt(squares).sum()), farthest, int(alike)


def _tear(positions: Floats, before: Floats, corners: Corners) -> Leap | None:
    """The first of the vertices that moved farthest against the mean of their neighbours; None where none has any.

    These differential coordinates of the displacements are near 0 where the surface moves, turns or bends as one.
    """
    if not len(corners.v):
        return None
    beside = _beside(corners, len(positions))
    if _native.active:
        first, *way, largest, alike = _native.core.measure_tear(positions, before, beside, TORN_ALIKE**2)
    else:
        with np.errstate(all="ignore"):
            # One axis after the other: gathering single numbers is faster than gathering rows of three.
            against = [_against_mean(way, beside) for way in np.ascontiguousarray((positions - before).T)]
            x, y, z = against
            squares = x * x + y * y + z * z
            largest = float(squares.max())
            leaping = squares >= TORN_ALIKE**2 * largest
            first = int(leaping.argmax())
            way, alike = [float(axis[first]) for axis in against], int(np.count_nonzero(leaping))
    if not 0.0 < largest < np.inf:
        return None
    return Leap(first, (way[0], way[1], way[2]), alike)


Beside = npt.NDArray[np.int32]


def _against_mean(way: Floats, beside: Beside) -> Floats:
    """(n,): displacements along one axis, less the mean of the neighbours'."""
    one, two, three, four = way.take(beside.T)
    return np.asarray(way - (one + two + three + four) * 0.25)


class _Latest(threading.local):
    """The neighbours that were looked up last: frames that follow each other share their faces."""

    corners: weakref.ref[npt.NDArray[np.int32]] | None = None
    beside: Beside = np.empty((0, 4), np.int32)


_latest = _Latest()


def _beside(corners: Corners, count: int) -> Beside:
    """(n, 4): neighbours of each of `count` vertices, the next and the one before round the first and the last face
    that it is a corner of. A vertex of no face is its own neighbour."""
    known = _latest.corners() if _latest.corners is not None else None
    if known is corners.v and len(_latest.beside) == count:
        return _latest.beside
    if _native.active:
        beside = np.empty((count, 4), np.int32)
        _native.core.find_neighbours(np.ascontiguousarray(corners.offsets), np.ascontiguousarray(corners.v), beside)
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
    """Positions of the sampled vertices, (s, 3) float64, as bytes: small, and equal where they are equal."""
    return np.ascontiguousarray(frame.positions[sampled(len(frame.positions))], "<f8").tobytes()


def sample_positions(data: bytes) -> Floats:
    """The positions (s, 3) that `sample` made bytes of."""
    return np.frombuffer(data, "<f8").reshape(-1, 3)


@lru_cache(maxsize=64)
def sampled(count: int) -> npt.NDArray[np.intp]:
    """(s,) vertices of `count`, rising, that stand for all: of few each, else SAMPLED_VERTICES spread evenly.

    Multiples of the golden ratio modulo 1 spread evenly and never fall in step with the rows of a grid (Weyl 1916,
    equidistribution modulo 1).
    """
    if count <= SAMPLED_VERTICES:
        chosen = np.arange(count)
    else:
        turns = np.arange(SAMPLED_VERTICES) * ((np.sqrt(5.0) - 1.0) / 2.0) % 1.0
        chosen = np.unique((turns * count).astype(np.intp))
    chosen.setflags(write=False)
    return chosen
