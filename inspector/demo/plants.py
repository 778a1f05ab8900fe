"""Put defects into frames on purpose. Each function returns the edited mesh, or files that replace the frame's file."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.demo import outline
from inspector.demo.obj_text import library_text, obj_text
from inspector.demo.quad_mesh import ABSENT, QuadMesh

Files = dict[str, bytes]


@dataclass(frozen=True, eq=False)
class SpoiltFrame:
    """The frame in which a defect is planted.

    Attributes:
        frame: The frame number.
        clean: The frame without the defect.
        before: The previous frame, with any defect left out; `clean` if there is no previous frame.
    """

    frame: int
    clean: QuadMesh
    before: QuadMesh

    def file(self, content: bytes) -> Files:
        return {f"manta_broken.{self.frame:04}.obj": content}


Plant = Callable[[SpoiltFrame], Files]

_FACE = 180
"""Index of the face with the defect, or of the first such face. It is on the back of a wing, away from the seam."""
_VERTEX = 157


def edited(edit: Callable[[QuadMesh], QuadMesh]) -> Plant:
    """Turn a function that edits a mesh into a function that returns the files of a frame."""
    return lambda spot: spot.file(obj_text(edit(spot.clean)))


# ---- the file


def left_out(_: SpoiltFrame) -> Files:
    """Return no files, because the frame is missing."""
    return {}


def cut_off(spot: SpoiltFrame) -> Files:
    """About half of the frame's file, cut off in the middle of a number, as after an interrupted copy."""
    text = obj_text(spot.clean)
    return spot.file(text[: text.index(b"\n", len(text) // 2) + 9])


def twice(spot: SpoiltFrame) -> Files:
    """The frame's file, and a copy of it whose frame number has no padding."""
    text = obj_text(spot.clean)
    return spot.file(text) | {f"manta_broken.{spot.frame}.obj": text}


# ---- positions


def bad_number(spot: SpoiltFrame) -> Files:
    """The frame's file with a coordinate that is not a number, written as older C libraries print such a value."""
    positions = spot.clean.positions.copy()
    positions[_VERTEX, 1] = np.nan
    return spot.file(obj_text(replace(spot.clean, positions=positions)).replace(b"nan", b"1.#QNAN"))


def frozen(spot: SpoiltFrame) -> Files:
    """The frame's file with the shape and position of the previous frame."""
    before = spot.before
    return spot.file(obj_text(replace(spot.clean, positions=before.positions, normals=before.normals)))


def moved_aside(mesh: QuadMesh) -> QuadMesh:
    """The mesh moved two metres to the side."""
    return replace(mesh, positions=mesh.positions + np.array([2.0, 0.0, 0.0]))


def enlarged(mesh: QuadMesh) -> QuadMesh:
    """The mesh scaled by 1.5 about the centre of its bounding box."""
    middle = (mesh.positions.min(axis=0) + mesh.positions.max(axis=0)) / 2
    return replace(mesh, positions=middle + 1.5 * (mesh.positions - middle))


# ---- vertices and faces


def stray_vertex(mesh: QuadMesh) -> QuadMesh:
    """The mesh with an additional vertex inside the body. No face uses it."""
    return replace(mesh, positions=np.concatenate([mesh.positions, mesh.positions.mean(axis=0, keepdims=True)]))


def face_lost(mesh: QuadMesh) -> QuadMesh:
    kept = np.arange(len(mesh.v)) != _FACE
    return replace(mesh, v=mesh.v[kept], vt=mesh.vt[kept], vn=mesh.vn[kept])


def other_faces(mesh: QuadMesh) -> QuadMesh:
    """The mesh with two adjacent quads replaced by two different quads that fill the same hexagon.

    (a, b, c, d) and (d, c, e, f) become (a, b, c, e) and (a, e, f, d). Each vertex keeps its UV and normal.
    """

    def divided(quads: Indices) -> Indices:
        (a, b, c, d), (_, _, e, f) = quads[_FACE].tolist(), quads[_FACE + 1].tolist()
        changed = quads.copy()
        changed[_FACE : _FACE + 2] = (a, b, c, e), (a, e, f, d)
        return changed

    return replace(mesh, v=divided(mesh.v), vt=divided(mesh.vt), vn=divided(mesh.vn))


def vertex_beyond_end(mesh: QuadMesh) -> QuadMesh:
    """The mesh with one corner whose vertex index is beyond the end of the list."""
    v = mesh.v.copy()
    v[_FACE, 2] = len(mesh.positions) + 7
    return replace(mesh, v=v)


# ---- UVs


def without_uvs(mesh: QuadMesh) -> QuadMesh:
    return replace(mesh, uvs=np.zeros((0, 2)), vt=np.full_like(mesh.vt, ABSENT))


def uvs_in_part(mesh: QuadMesh) -> QuadMesh:
    """The mesh after the UVs of 40 faces of the back are removed."""
    vt = mesh.vt.copy()
    vt[_FACE : _FACE + 40] = ABSENT
    return replace(mesh, vt=vt)


def uv_beyond_end(mesh: QuadMesh) -> QuadMesh:
    """The mesh with one corner whose UV index is beyond the end of the list."""
    vt = mesh.vt.copy()
    vt[_FACE, 2] = len(mesh.uvs) + 7
    return replace(mesh, vt=vt)


def uvs_shifted(mesh: QuadMesh) -> QuadMesh:
    """The mesh with every UV index too high by four, as if the list began with the four UVs of another object.

    Four UVs are added, because indices beyond the end of the list would be another defect.
    """
    card = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    return replace(mesh, uvs=np.concatenate([mesh.uvs, card]), vt=mesh.vt + len(card))


def uvs_reassigned(mesh: QuadMesh) -> QuadMesh:
    """The mesh with the UV indices of the back in reverse order, which rotates the texture of the back."""
    return replace(mesh, vt=np.where(mesh.vt < outline.SHEET, outline.SHEET - 1 - mesh.vt, mesh.vt))


def other_seam(mesh: QuadMesh) -> QuadMesh:
    """The mesh with the faces of the rim moved from the island of the back to that of the belly.

    This changes which corners share UVs, but not the number of UVs.
    """
    uvs, vt = outline.layout(rim_with_belly=True)
    return replace(mesh, uvs=uvs, vt=vt)


def uvs_renumbered(mesh: QuadMesh) -> QuadMesh:
    """The mesh with the list of UVs in reverse order, and new indices that keep each corner's coordinates."""
    return replace(mesh, uvs=mesh.uvs[::-1], vt=len(mesh.uvs) - 1 - mesh.vt)


def uvs_moved(mesh: QuadMesh) -> QuadMesh:
    """The mesh with the island of the belly moved a quarter of a cell to the left. No index changes."""
    uvs: Floats = mesh.uvs.copy()
    uvs[outline.SHEET : 2 * outline.SHEET, 0] -= 0.25 / 12
    return replace(mesh, uvs=uvs)


# ---- materials


def library_gone(mesh: QuadMesh) -> QuadMesh:
    return replace(mesh, library="manta_broken_old.mtl")


def map_misspelt(spot: SpoiltFrame) -> Files:
    """The frame's file, and its own library, in which the map's path has a backslash and a different case."""
    library = library_text((spot.clean.material, "0.800 0.800 0.800", ["map_Kd Textures\\Manta.PNG"]))
    name = "manta_broken_wet.mtl"
    return spot.file(obj_text(replace(spot.clean, library=name))) | {name: library}


def material_unknown(mesh: QuadMesh) -> QuadMesh:
    return replace(mesh, material="manta_skin_wet")
