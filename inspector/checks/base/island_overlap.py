"""Measure the overlap of UV islands, and distinguish intended stacks from accidental overlap."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.formats.frame import ABSENT, Frame
from inspector.surface.connections import same_corners
from inspector.surface.coverage import CellGrid, covered
from inspector.surface.islands import face_materials, find_islands
from inspector.surface.triangles import triangulate
from inspector.surface.uv_layers import layer_spans
from inspector.surface.uv_layout import OVERLAP_CELLS, Box, uv_areas
from inspector.threshold import Threshold

OVERLAP_PAIRS = 1 << 21
"""Maximum number of pairs of a face and a grid cell that it covers. The grid divides the texture into cells. This many
pairs take 0.2 GB of memory. If there are more, a coarser grid is used.
"""

STACKED_SHARE = Threshold(
    "stacked-share",
    0.9,
    "An overlap counts as intended if at least this share of an island overlaps other islands, as with mirrored halves "
    "and repeated parts. Badly packed islands have smaller overlaps, because they overlap only at their edges (common "
    "practice, no source).",
)


@dataclass(frozen=True, slots=True)
class Overlap:
    """How much of the used area of the texture is shown more than once.

    Attributes:
        stacked: Share of the used area in which whole islands cover each other, 0 to 1.
        partly: Share of the used area in which islands overlap only in part, or an island overlaps itself, 0 to 1.
        face: Index, from 0, of the first face that overlaps in part; if there is none, index of the first face that
            overlaps at all; 0 if no face overlaps.
    """

    stacked: float
    partly: float
    face: int


def island_overlap(frame: Frame, box: Box) -> Overlap:
    """Measure how much of the used area of the texture is shown more than once.

    Overlap between faces of different materials doesn't count, and duplicate faces count once. The mirrored and the
    unmirrored faces of an island count as separate islands, because mirrored halves are often connected along the
    middle.

    Args:
        frame: The frame.
        box: The bounding box of all UVs: minimum u, minimum v, maximum u, maximum v.
    """
    single = np.ones(frame.faces, bool)
    single[np.concatenate(same_corners(frame.corners))] = False
    islands = find_islands(frame, uv_areas(frame.corners, frame.uvs) < 0.0).of_face
    material = np.where((islands >= 0) & single, face_materials(frame)[1], ABSENT)
    uv, face = _triangles(frame, material)
    cells = _cells(uv, box)
    cell, layers = _layers(frame, material, box, cells)
    grid = CellGrid(*_with_extent(box), cells, cells)
    parts = [np.stack([face[hit.triangle], hit.row * cells + hit.column]) for hit in covered(uv, grid)]
    face, hit = np.concatenate([np.zeros((2, 0), np.int64), *parts], axis=1)
    hit += material[face] * cells**2
    every = np.unique(np.concatenate([cell, hit]))  # no layer has a cell whose centre is exactly on an outline
    of_cell = np.zeros(len(every), np.int64)
    of_cell[np.searchsorted(every, cell)] = layers
    hit = np.searchsorted(every, hit)
    partly = _partly(hit, islands[face], of_cell)
    used, again, bad = (int(np.count_nonzero(some)) for some in (of_cell, of_cell > 1, partly))
    odd = face[(partly if bad else of_cell > 1)[hit]]
    return Overlap((again - bad) / max(used, 1), bad / max(used, 1), int(odd.min(initial=frame.faces)) % frame.faces)


def _triangles(frame: Frame, material: Indices) -> tuple[Floats, Indices]:
    """Return the UVs, (t, 3, 2), and the face, (t,), of each triangle. Faces without a material index are left out."""
    triangles = triangulate(frame.corners, frame.positions)
    kept = np.flatnonzero(material[triangles.face] != ABSENT)
    return frame.uvs[:, :2][frame.corners.vt[triangles.corners[kept]]], triangles.face[kept]


def _cells(uv: Floats, box: Box) -> int:
    """Return the number of cells along each side of the grid, limited by OVERLAP_CELLS and OVERLAP_PAIRS."""
    left, bottom, right, top = _with_extent(box)
    share = float(np.prod((uv.max(axis=1) - uv.min(axis=1)) / (right - left, top - bottom), axis=1).sum())
    return max(1, min(OVERLAP_CELLS, int((OVERLAP_PAIRS / max(share, 1.0)) ** 0.5)))


def _layers(frame: Frame, material: Indices, box: Box, cells: int) -> tuple[Indices, Indices]:
    """Return the covered cells, (n,), and the number of faces that cover each of them, (n,)."""
    ends = np.array([box[:2], box[2:]])
    parts = [spans.cells() for spans in layer_spans(frame.corners, frame.uvs, material, ends, cells)]
    none = np.zeros(0, np.int64)
    return np.concatenate([none, *(cell for cell, _ in parts)]), np.concatenate([none, *(many for _, many in parts)])


def _with_extent(box: Box) -> Box:
    left, bottom, right, top = box
    return left, bottom, right if right > left else left + 1.0, top if top > bottom else bottom + 1.0


def _partly(cell: Indices, island: Indices, layers: Indices) -> Flags:
    """Whether each cell has unintended overlap, (n,).

    Overlap is unintended if one island covers the cell more than once, or if islands overlap only in part.

    For each pair of a face and a cell that it covers, `cell` and `island`, (p,), contain the cell and the face's
    island. `layers`, (n,), contains the number of faces that cover each cell.
    """
    pairs = np.unique(cell * (int(island.max(initial=0)) + 1) + island)
    cell, island = np.divmod(pairs, int(island.max(initial=0)) + 1)
    owners = np.bincount(cell, minlength=len(layers))
    # Two islands that share a side don't overlap in a cell whose centre is on that side.
    shared = (owners > 1) & (layers > 1)
    whole, lying = np.bincount(island), np.bincount(island, shared[cell])
    loose = lying < STACKED_SHARE.value * whole
    meeting = np.bincount(cell[loose[island]], minlength=len(layers))
    partly: Flags = (layers > 1) & ((meeting > 1) | (layers > owners))
    return partly
