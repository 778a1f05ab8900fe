"""What differs between two frames: by block, element and distance."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.formats.frame import Frame
from inspector.names import Name

Floats = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Difference:
    """block: of the file, and what it holds. counts: elements here and there. differing: how many of those that both
    have are not the same; first: the first of them, from 0. mean, most, farthest: distance over those that both have,
    in the block's own units, and where it is largest; None where distance means nothing."""

    block: str
    counts: tuple[int, int]
    differing: int
    first: int | None = None
    mean: float | None = None
    most: float | None = None
    farthest: int | None = None

    @property
    def same(self) -> bool:
        return not self.differing and self.counts[0] == self.counts[1]


def differences(one: Frame, other: Frame) -> tuple[Difference, ...]:
    """Block by block, in the order of a file; the first frame is "here", the second "there"."""
    return (
        _libraries(one, other),
        _points("vertices (v), units", one.positions, other.positions),
        _points("UVs (vt), texture widths", one.uvs[:, :2], other.uvs[:, :2]),
        _points("normals (vn), lengths", one.normals, other.normals),
        _faces("faces (f), vertices", one, other, "v"),
        _faces("faces (f), UVs", one, other, "vt"),
        _faces("faces (f), normals", one, other, "vn"),
        _materials(one, other),
    )


def displacement(one: Frame, other: Frame) -> Floats | None:
    """(n,), scene units: way of each vertex; NaN where a number is bad; None where the counts differ."""
    if one.positions.shape != other.positions.shape:
        return None
    with np.errstate(over="ignore", invalid="ignore"):
        ways: Floats = np.linalg.norm(one.positions - other.positions, axis=1)
    return np.where(np.isfinite(ways), ways, np.nan)


def _points(block: str, here: Floats, there: Floats) -> Difference:
    both = min(len(here), len(there))
    differ = ~((here[:both] == there[:both]) | (np.isnan(here[:both]) & np.isnan(there[:both]))).all(axis=1)
    with np.errstate(over="ignore", invalid="ignore"):
        ways = np.linalg.norm(here[:both] - there[:both], axis=1)
    known = np.isfinite(ways)
    counts = len(here), len(there)
    if not known.any():
        return Difference(block, counts, int(differ.sum()), _first(differ))
    farthest = int(np.argmax(np.where(known, ways, -1.0)))
    measured = float(ways[known].mean()), float(ways[farthest]), farthest
    return Difference(block, counts, int(differ.sum()), _first(differ), *measured)


def _faces(block: str, one: Frame, other: Frame, which: str) -> Difference:
    """Faces whose corners are not the same in number, order or index. which: v, vt or vn."""
    both = min(one.faces, other.faces)
    differ = one.corners.sizes[:both] != other.corners.sizes[:both]
    alike = np.flatnonzero(~differ)
    here, there = one.corners.picked(alike), other.corners.picked(alike)
    unequal = getattr(here, which) != getattr(there, which)
    differ[alike[np.unique(here.face_of_corner()[unequal])]] = True
    return Difference(block, (one.faces, other.faces), int(differ.sum()), _first(differ))


def _materials(one: Frame, other: Frame) -> Difference:
    """Faces that have another material, by name."""
    numbers: dict[Name | None, int] = {}
    here, there = (
        np.repeat(
            np.array([numbers.setdefault(run.material, len(numbers)) for run in frame.runs], np.int64),
            [run.stop - run.start for run in frame.runs],
        )
        for frame in (one, other)
    )
    both = min(len(here), len(there))
    differ = here[:both] != there[:both]
    return Difference("materials (usemtl), faces", (len(here), len(there)), int(differ.sum()), _first(differ))


def _libraries(one: Frame, other: Frame) -> Difference:
    here, there = ([line.name for line in frame.libraries] for frame in (one, other))
    differ = np.array([a != b for a, b in zip(here, there, strict=False)], bool)
    return Difference("libraries (mtllib)", (len(here), len(there)), int(differ.sum()), _first(differ))


def _first(differ: npt.NDArray[np.bool_]) -> int | None:
    return int(np.argmax(differ)) if differ.any() else None
