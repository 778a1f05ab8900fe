"""The UV map of a frame, and the measurements that are shown below it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.formats.frame import ABSENT, Frame
from inspector.names import Name
from inspector.picture.face_counts import twice_areas
from inspector.picture.uv_map import UvMap
from inspector.surface.edges import next_corner
from inspector.surface.islands import Islands, find_islands
from inspector.surface.uv_use import uv_use
from inspector.tui.pictures.frame_store import ReadFrame


@dataclass(frozen=True, eq=False)
class UvFigures:
    """The UV map of a frame and the map's measurements, for the faces of one material or of all materials.

    Attributes:
        map: The map, for drawing.
        islands: Number of islands.
        mirrored: Number of mirrored faces, whose UVs run clockwise.
        overlap: Share of the triangles' total area in the texture, 0 to 1, that adds nothing to the covered area,
            because other triangles cover the same part of the texture; None if it can't be measured.
        bare: Number of faces, of all materials, that have a corner without a UV.
    """

    map: UvMap
    islands: int
    mirrored: int
    overlap: float | None
    bare: int


class UvLayouts:
    """A cache of recent UV maps and their measurements. Frames with the same faces and UVs share an entry."""

    def __init__(self) -> None:
        self._known: dict[Name | None, list[tuple[ReadFrame, UvFigures]]] = {}

    def of(self, read: ReadFrame, material: Name | None) -> UvFigures:
        """Return the UV map of a frame and the map's measurements, from the cache if possible.

        The map contains only the faces of `material`. If `material` is None, the map contains the faces of all
        materials.
        """
        known = self._known.setdefault(material, [])
        for other, layout in known:
            if other.shape is read.shape and other.frame.runs == read.frame.runs:
                return layout
        layout = uv_layout(read, material)
        self._known[material] = [*known[-1:], (read, layout)]  # two entries: the frame and the reference frame
        return layout


def uv_layout(read: ReadFrame, material: Name | None) -> UvFigures:
    """Compute the UV map of a frame and the map's measurements.

    The map contains only the faces of `material`. If `material` is None, the map contains the faces of all materials.
    """
    islands = find_islands(read.frame)
    chosen = np.array([material is None or name == material for name in islands.material], bool)
    of_face = np.where(islands.of_face == ABSENT, False, np.append(chosen, False)[islands.of_face])
    kept = np.flatnonzero(of_face[read.triangles.face])
    uvs, face = read.shape.corner_uvs[kept], read.triangles.face[kept]
    island = islands.of_face[face]
    area = np.bincount(face, np.nan_to_num(twice_areas(uvs)), minlength=read.frame.faces)
    use = uv_use(uvs)
    return UvFigures(
        map=UvMap(uvs, face, island, _sides(read.frame, of_face), _outlines(read.frame, islands, chosen)),
        islands=int(chosen.sum()),
        mirrored=int((area < 0.0).sum()),
        overlap=None if use is None else use.overlap,
        bare=int((islands.of_face == ABSENT).sum()),
    )


def _sides(frame: Frame, of_face: np.ndarray) -> Floats:
    """Return both ends of each side of the chosen faces, in UV coordinates, (e, 2, 2)."""
    corners = frame.corners
    start = np.flatnonzero(of_face[corners.face_of_corner()])
    ends = np.stack([corners.vt[start], corners.vt[next_corner(corners)[start]]], axis=-1)
    return np.asarray(frame.uvs[ends, :2])


def _outlines(frame: Frame, islands: Islands, chosen: np.ndarray) -> Floats:
    """Return both ends of each side of the outlines of the chosen islands, in UV coordinates, (o, 2, 2)."""
    if not len(islands.outline):
        return np.zeros((0, 2, 2))
    return np.asarray(frame.uvs[islands.outline[chosen[islands.outline_island]], :2])
