"""Measure the surface of one frame. Values that depend only on the faces are computed once per topology."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, TypedDict

import numpy as np
import numpy.typing as npt

from inspector import _native, limits
from inspector.formats.frame import ABSENT, Frame
from inspector.names import Name
from inspector.surface.connections import connect, is_closed
from inspector.surface.face_set import face_set
from inspector.surface.shapes import face_shapes
from inspector.threshold import Threshold

NORMAL_LENGTH = Threshold(
    "normal-length",
    0.01,
    "If a normal's length differs from 1 by at most this value, it counts as 1. Rounding to two decimal places "
    "changes the length by up to 0.0087, which is 0.005 times the square root of 3.",
)

if TYPE_CHECKING:
    from inspector.sequence.measure.facts import FrameFacts

_OF_FACES = ("duplicate-face", "coincident-face")
_OF_SHAPES = ("zero-area-face", "concave-face", "non-planar-face", "reversed-normal")
OF_NORMALS = ("zero-normal", "normal-length")
_SMOOTHING_OFF = (None, Name(b"off"), Name(b"0"))


@dataclass(frozen=True, slots=True)
class Fault:
    """One kind of fault in faces or normals.

    Attributes:
        kind: A key of problems.KINDS.
        count: Number of faces or normals with the fault.
        elements: Indices, from 0, of the first few faces or normals with the fault.
    """

    kind: str
    count: int
    elements: tuple[int, ...]


class SurfaceValues(TypedDict):
    """The measurements of a surface. Each field becomes the field of FrameFacts that has the same name.

    Lengths are in scene units, areas in square scene units, volumes in cubic scene units.
    """

    components: int
    boundary_edges: int
    non_manifold_edges: int
    opposed_edges: int
    unused_vertices: int
    face_set: bytes
    edge_length: float
    area: float
    volume: float
    faces_without_normals: int


def surface_values(
    frame: Frame, faces: FrameFacts | None, shapes: FrameFacts | None
) -> tuple[SurfaceValues, list[Fault]]:
    """Measure the surface of a frame.

    Args:
        frame: The frame.
        faces: The facts of a frame with the same faces and number of vertices, from which values are copied; None if
            there is no such frame.
        shapes: The facts of a frame that also has the same positions and normals, from which values are copied; None if
            there is no such frame.

    Returns:
        The values, and the faults in the faces and normals.
    """
    connections, faults = _connections(frame, faces)
    closed = is_closed(*(connections[name] for name in ("components", "boundary_edges", "non_manifold_edges")))
    sizes, more = _sizes(frame, shapes, closed)
    bare = _faces_without_normals(frame)
    if 0 < len(bare) < frame.faces and not any(problem.kind == "vn-index-range" for problem in frame.problems):
        more += faults_of([("no-normal", bare)])
    values: SurfaceValues = {**connections, **sizes, "faces_without_normals": len(bare)}  # type: ignore[typeddict-item]
    return values, [*faults, *more, *_normal_faults(frame)]


def _connections(frame: Frame, known: FrameFacts | None) -> tuple[dict[str, Any], list[Fault]]:
    names = ("components", "boundary_edges", "non_manifold_edges", "opposed_edges", "unused_vertices", "face_set")
    if known is not None:
        return {name: getattr(known, name) for name in names}, known_faults(known, _OF_FACES)
    found = connect(frame.corners, len(frame.positions))
    edges = (found.boundary_edges, found.non_manifold_edges, found.opposed_edges)
    values = (found.components, *edges, found.unused, face_set(frame.corners))
    faults = faults_of(zip(_OF_FACES, (found.duplicates, found.reversed_duplicates), strict=True))
    return dict(zip(names, values, strict=True)), faults


def _sizes(frame: Frame, known: FrameFacts | None, closed: bool) -> tuple[dict[str, float], list[Fault]]:
    names = ("edge_length", "area", "volume")
    if known is not None:
        return {name: getattr(known, name) for name in names}, known_faults(known, _OF_SHAPES)
    found = face_shapes(frame, closed)
    faults = faults_of(zip(_OF_SHAPES, (found.zero_area, found.concave, found.non_planar, found.against), strict=True))
    return {name: _finite(getattr(found, name)) for name in names}, faults


def _faces_without_normals(frame: Frame) -> npt.NDArray[np.intp]:
    """Return the indices of faces with at least one corner that has no valid normal, (k,), ascending."""
    bare = frame.corners.vn == ABSENT
    return frame.corners.faces_with(bare) if bare.any() else np.zeros(0, np.intp)


def _normal_faults(frame: Frame) -> list[Fault]:
    """Find normals without a direction, and normals whose length is not 1. Bad numbers are reported elsewhere."""
    low, high = (1.0 - NORMAL_LENGTH.value) ** 2, (1.0 + NORMAL_LENGTH.value) ** 2
    if _native.active and not _native.core.count_lengths(frame.normals, low, high):
        return []
    x, y, z = frame.normals.T
    with np.errstate(over="ignore", invalid="ignore"):
        square = x * x + y * y + z * z
        off = np.flatnonzero(((square < low) | (square > high)) & (square > 0.0))
    return faults_of(zip(OF_NORMALS, (np.flatnonzero(square == 0.0), off), strict=True))


def groups(frame: Frame) -> tuple[Name, ...]:
    """Return the distinct groups in the order of first use. The names on one line count as one group."""
    return tuple(dict.fromkeys(run.group for run in frame.runs if run.group is not None))


def face_materials(frame: Frame) -> bytes:
    """Return one digest of the materials of all faces, in the order of the faces; b"" if no face has a material."""
    changes: list[tuple[int, bytes]] = []
    for run in frame.runs:
        name = b"" if run.material is None else run.material.raw
        if run.stop > run.start and (not changes or changes[-1][1] != name):
            changes.append((run.start, name))
    if not any(name for _, name in changes):
        return b""
    return hashlib.blake2b(repr(changes).encode(), digest_size=16).digest()


def smoothing(frame: Frame) -> bytes:
    """Return one digest of the smoothing groups of all faces, in the order of the faces; b"" if smoothing is off for
    all faces.

    Without an `s` statement, smoothing is off; `s 0` and `s off` turn it off (format document, "s group_number").
    """
    changes: list[tuple[int, bytes]] = []
    for run in frame.runs:
        name = b"" if run.smoothing in _SMOOTHING_OFF or run.smoothing is None else run.smoothing.raw
        if not changes or changes[-1][1] != name:
            changes.append((run.start, name))
    if not any(name for _, name in changes):
        return b""
    return hashlib.blake2b(repr(changes).encode(), digest_size=16).digest()


def known_faults(known: FrameFacts, kinds: tuple[str, ...]) -> list[Fault]:
    """Return the faults of the given kinds from earlier facts.

    Args:
        known: The facts.
        kinds: The kinds to return, keys of problems.KINDS.
    """
    return [
        Fault(problem.kind, problem.count, tuple(place.element or 0 for place in problem.places))
        for problem in known.problems
        if problem.kind in kinds
    ]


def faults_of(found: Iterable[tuple[str, npt.NDArray[np.intp]]]) -> list[Fault]:
    """Make the faults from the faces or normals that were found.

    Args:
        found: For each kind of fault, its key in problems.KINDS, and the indices, (k,), of the faces or normals with
            the fault. A kind without indices is left out.
    """
    return [
        Fault(kind, len(elements), tuple(elements[: limits.PLACES_KEPT].tolist()))
        for kind, elements in found
        if len(elements)
    ]


def _finite(value: float) -> float:
    return value if np.isfinite(value) else 0.0
