"""Which UV islands lie on each other, and how: stacked on purpose, or partly by mistake."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector import limits
from inspector.formats.frame import Frame
from inspector.surface.arrays import Flags, Indices
from inspector.surface.connections import same_corners
from inspector.surface.coverage import Grid, covered
from inspector.surface.islands import face_materials, find_islands
from inspector.surface.triangles import triangulate
from inspector.surface.uv_layout import Box, layers_of, uv_areas


@dataclass(frozen=True, slots=True)
class Overlap:
    """Shares of the texture that the faces use. stacked: where islands lie on others as a whole; partly: where they
    don't, or an island lies on itself. face: one that overlaps (partly, if any does), from 0."""

    stacked: float
    partly: float
    face: int


def island_overlap(frame: Frame, box: Box) -> Overlap:
    """box: of all UVs. Faces of different materials lie on different textures and don't meet. Faces on the vertices of
    others, which are told of as such, count once. Where a welded island turns over, it counts as two: mirrored halves
    often hang together in the middle."""
    single = np.ones(frame.faces, bool)
    single[np.concatenate(same_corners(frame.corners))] = False
    islands = find_islands(frame, uv_areas(frame.corners, frame.uvs) < 0.0).of_face
    names, material = face_materials(frame)
    hits = _hits(frame, (islands >= 0) & single, box)
    used = again = bad = 0
    first: dict[bool, int] = {}
    for at in range(len(names)):
        mine = (material == at) & (islands >= 0) & single
        layers = layers_of(frame.corners, frame.uvs, np.flatnonzero(mine), box).ravel()
        face, cell = hits[:, mine[hits[0]]]
        partly = _partly(cell, islands[face], layers)
        used += int(np.count_nonzero(layers))
        again += int(np.count_nonzero(layers > 1))
        bad += int(np.count_nonzero(partly))
        for kind, cells in ((True, partly), (False, layers > 1)):
            if cells[cell].any():
                first.setdefault(kind, int(face[cells[cell]].min()))
    return Overlap((again - bad) / max(used, 1), bad / max(used, 1), first.get(True, first.get(False, 0)))


def _hits(frame: Frame, chosen: Flags, box: Box) -> Indices:
    """Pairs of a face and a cell that it covers, (2, h)."""
    cells = limits.OVERLAP_CELLS
    triangles = triangulate(frame.corners, frame.positions)
    kept = np.flatnonzero(chosen[triangles.face])
    uv = frame.uvs[:, :2][frame.corners.vt[triangles.corners[kept]]]
    low_u, low_v, high_u, high_v = box
    grid = Grid(
        low_u, low_v, high_u if high_u > low_u else low_u + 1.0, high_v if high_v > low_v else low_v + 1.0, cells, cells
    )
    parts = [np.stack([triangles.face[kept[hit.triangle]], hit.row * cells + hit.column]) for hit in covered(uv, grid)]
    return np.concatenate([np.zeros((2, 0), np.int64), *parts], axis=1)


def _partly(cell: Indices, island: Indices, layers: Indices) -> Flags:
    """Cells (n,) that an island covers twice, or two islands of which neither lies on others as a whole."""
    pairs = np.unique(cell * (int(island.max(initial=0)) + 1) + island)
    cell, island = np.divmod(pairs, int(island.max(initial=0)) + 1)
    owners = np.bincount(cell, minlength=len(layers))
    shared = (owners > 1) & (layers > 1)  # a cell's middle on a side that two islands share is no overlap
    whole, lying = np.bincount(island), np.bincount(island, shared[cell])
    loose = lying < limits.STACKED_SHARE * whole
    meeting = np.bincount(cell[loose[island]], minlength=len(layers))
    partly: Flags = (layers > 1) & ((meeting > 1) | (layers > owners))
    return partly
