"""Find UV islands: faces of one material that are connected both on the surface and in the texture."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Indices
from inspector.formats.frame import ABSENT, Frame
from inspector.names import Name
from inspector.surface.components import connected
from inspector.surface.edges import Edges, edges_of, next_corner


@dataclass(frozen=True, eq=False)
class Islands:
    """The UV islands of a frame.

    Attributes:
        of_face: The island of each face, (f,); ABSENT for a face with a corner that has no vertex or no finite UV.
            Islands are numbered from 0 in the order of their first faces.
        material: The material of each island; None if its faces have no material.
        outline: UV indices at both ends of each side on the boundary of an island, (o, 2).
        outline_island: The island of each of these sides, (o,).
    """

    of_face: Indices
    material: tuple[Name | None, ...]
    outline: Indices
    outline_island: Indices

    def __len__(self) -> int:
        return len(self.material)


def face_materials(frame: Frame) -> tuple[tuple[Name | None, ...], Indices]:
    """Return the names of a frame's materials in the order of first use, with None for faces without a material, and
    the index of each face's material among them, (f,)."""
    names = tuple(dict.fromkeys(run.material for run in frame.runs))
    numbers = {name: number for number, name in enumerate(names)}
    which = np.zeros(frame.faces, np.int64)
    for run in frame.runs:
        which[run.start : run.stop] = numbers[run.material]
    return names, which


def find_islands(frame: Frame, mirrored: Flags | None = None) -> Islands:
    """Find the UV islands of a frame: faces of one material, joined at edges where both the vertices and the UVs agree.

    UVs are compared by their coordinates, because some exporters write a separate UV for each corner.

    Args:
        frame: The frame.
        mirrored: Whether each face is mirrored, (f,). Mirrored faces are never joined to faces that are not mirrored.
            If `mirrored` is None, mirroring is ignored.
    """
    names, material = face_materials(frame)
    whole = _faces_with_uvs(frame)
    apart = material if mirrored is None else 2 * material + mirrored
    edges = edges_of(frame.corners, _places(frame, apart, whole))
    label = np.full(frame.faces, ABSENT, np.int64)
    _, label[whole] = np.unique(connected(frame.faces, edges.links())[whole], return_inverse=True)
    first = np.unique(label[whole], return_index=True)[1]
    of_island = material[np.flatnonzero(whole)[first]]
    outline, outline_island = _outline(frame, edges, label)
    return Islands(label, tuple(names[number] for number in of_island.tolist()), outline, outline_island)


def _faces_with_uvs(frame: Frame) -> Flags:
    """For each face, whether it has corners and all of these corners have a vertex and a finite UV, (f,)."""
    corners = frame.corners
    good: Flags = np.asarray((corners.vt != ABSENT) & (corners.v != ABSENT))
    if len(frame.uvs):
        broken = np.flatnonzero(~np.isfinite(frame.uvs).all(axis=1))
        good &= ~np.isin(corners.vt, broken)
    missing = np.bincount(corners.face_of_corner()[~good], minlength=frame.faces)
    whole: Flags = (missing == 0) & (corners.sizes > 0)
    return whole


def _places(frame: Frame, material: Indices, whole: Flags) -> Indices:
    """Number the corners, (c,). Corners with the same vertex, UV coordinates and material get the same number.

    Corners of faces that are not `whole` get -1.
    """
    corners, of_corner = frame.corners, frame.corners.face_of_corner()
    if not whole.any():
        return np.full(len(corners.v), -1)
    flat = frame.uvs[:, 0] + 1j * frame.uvs[:, 1]
    _, uv = np.unique(flat, return_inverse=True)
    pair = (corners.v.astype(np.int64) * len(frame.uvs) + uv[corners.vt]) * (int(material.max()) + 1)
    _, place = np.unique(pair + material[of_corner], return_inverse=True)
    return np.where(whole[of_corner], place, -1)


def _outline(frame: Frame, edges: Edges, label: Indices) -> tuple[Indices, Indices]:
    """Return `outline` and `outline_island` of Islands."""
    corners = frame.corners
    start = edges.lone_sides()
    ends = np.stack([corners.vt[start], corners.vt[next_corner(corners)[start]]], axis=-1)
    return ends.astype(np.int64), label[corners.face_of_corner()[start]]
