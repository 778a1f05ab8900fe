"""Compare two frames block by block (positions, UVs, faces and so on)."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.formats.element_lines import element_line, face_line
from inspector.formats.frame import Frame
from inspector.names import Name

LIBRARIES = "libraries"
"""Name of the block that compares the names of material libraries."""


@dataclass(frozen=True, slots=True)
class Difference:
    """The difference between two frames, "here" and "there", in one block.

    A distance is measured from an element in one frame to the element with the same index in the other frame.

    Attributes:
        block: The block, in words.
        noun: The noun for an element of the block.
        counts: Number of elements in the frame "here", and in the frame "there".
        differing: Number of elements that exist in both frames and differ.
        element: Index, from 0, of the element with the largest distance or, if no distance above 0 is known, of the
            first element that differs; None if no element differs.
        line: Line of this element in the file of the frame "here", from 1; 0 if `element` is None, or if the format has
            no lines.
        unit: Unit of the distances; "" for plain numbers.
        mean: Mean of the known distances, in `unit`; None if no distance is known.
        most: Largest known distance, in `unit`; None if no distance is known.
    """

    block: str
    noun: str
    counts: tuple[int, int]
    differing: int
    element: int | None = None
    line: int = 0
    unit: str = ""
    mean: float | None = None
    most: float | None = None

    @property
    def same(self) -> bool:
        """Whether nothing differs."""
        return not self.differing and self.counts[0] == self.counts[1]


def differences(one: Frame, other: Frame) -> tuple[Difference, ...]:
    """Compare two frames block by block. Vertex colours are included if at least one of the frames has colours.

    Args:
        one: The frame "here".
        other: The frame "there".
    """
    colours = _points(one, "vertex colours", "vertex", "", one.colours, other.colours, b"v")
    return (
        _libraries(one, other),
        _points(one, "vertices (v)", "vertex", "units", one.positions, other.positions, b"v"),
        *((colours,) if max(colours.counts) else ()),
        _points(one, "UVs (vt)", "UV", "texture widths", one.uvs[:, :2], other.uvs[:, :2], b"vt"),
        _points(one, "normals (vn)", "normal", "", one.normals, other.normals, b"vn"),
        _faces("face vertices", one, other, "v"),
        _faces("face UVs", one, other, "vt"),
        _faces("face normals", one, other, "vn"),
        _materials(one, other),
    )


def displacement(one: Frame, other: Frame) -> Floats | None:
    """Return the distance that each vertex moved between two frames, (n,), in scene units; NaN if it is not finite.
    None if the numbers of vertices differ."""
    if one.positions.shape != other.positions.shape:
        return None
    return _distances(one.positions, other.positions)


def _distances(here: Floats, there: Floats) -> Floats:
    """Return the distance from each point here to the corresponding point there, (n, k) each -> (n,); NaN if not
    finite."""
    with np.errstate(over="ignore", invalid="ignore"):
        distances: Floats = np.linalg.norm(here - there, axis=1)
    return np.where(np.isfinite(distances), distances, np.nan)


def _points(frame: Frame, block: str, noun: str, unit: str, here: Floats, there: Floats, keyword: bytes) -> Difference:
    both = min(len(here), len(there))
    differ = ~((here[:both] == there[:both]) | (np.isnan(here[:both]) & np.isnan(there[:both]))).all(axis=1)
    distances = _distances(here[:both], there[:both])
    known = ~np.isnan(distances)
    element, mean, most = _first(differ), None, None
    if known.any():
        mean, most = float(distances[known].mean()), float(distances[known].max())
        element = int(np.nanargmax(distances)) if most > 0.0 else element
    on = 0 if element is None else element_line(frame, keyword, element)
    return Difference(block, noun, (len(here), len(there)), int(differ.sum()), element, on, unit, mean, most)


def _faces(block: str, one: Frame, other: Frame, which: str) -> Difference:
    """Compare the faces: the number of corners of each face, and the indices (v, vt or vn) at its corners."""
    both = min(one.faces, other.faces)
    differ = one.corners.sizes[:both] != other.corners.sizes[:both]
    alike = np.flatnonzero(~differ)
    here, there = one.corners.picked(alike), other.corners.picked(alike)
    unequal = getattr(here, which) != getattr(there, which)
    differ[alike[here.faces_with(unequal)]] = True
    return _of_faces(block, one, (one.faces, other.faces), differ)


def _materials(one: Frame, other: Frame) -> Difference:
    """Compare the material of each face by its name."""
    numbers: dict[Name | None, int] = {}
    here, there = (
        np.repeat(
            np.array([numbers.setdefault(run.material, len(numbers)) for run in frame.runs], np.int64),
            [run.stop - run.start for run in frame.runs],
        )
        for frame in (one, other)
    )
    both = min(len(here), len(there))
    return _of_faces("materials", one, (len(here), len(there)), here[:both] != there[:both])


def _of_faces(block: str, here: Frame, counts: tuple[int, int], differ: npt.NDArray[np.bool_]) -> Difference:
    face = _first(differ)
    return Difference(block, "face", counts, int(differ.sum()), face, 0 if face is None else face_line(here, face))


def _libraries(one: Frame, other: Frame) -> Difference:
    here, there = ([line.name for line in frame.libraries] for frame in (one, other))
    differ = np.array([a != b for a, b in zip(here, there, strict=False)], bool)
    first = _first(differ)
    line = 0 if first is None else one.libraries[first].line
    return Difference(LIBRARIES, "library", (len(here), len(there)), int(differ.sum()), first, line)


def _first(differ: npt.NDArray[np.bool_]) -> int | None:
    return int(np.argmax(differ)) if differ.any() else None
