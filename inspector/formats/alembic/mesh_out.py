"""Writing the frames of one mesh as an archive. UVs and normals have one index per corner; each material is a face
set."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import BinaryIO

import numpy as np

from inspector.arrays import Indices
from inspector.errors import Refusal
from inspector.formats.alembic.archive import Metadata, Values
from inspector.formats.alembic.mesh import FACE_SET, POLYGONS, MeshSample, turned
from inspector.formats.alembic.scene import XFORM
from inspector.formats.alembic.times import ACYCLIC, TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter, CompoundOut, ObjectOut, PropertyOut
from inspector.formats.animation import Brief
from inspector.formats.mesh import Mesh, with_face_normals

_BASE = {"schemaBaseType": "AbcGeom_GeomBase_v1"}
_BOX = {"interpretation": "box"}
_SAMPLING = 1
USUAL_RATE = Fraction(24)
"""Frame rate, in frames per second, if none is known. It is needed because samples have a time in seconds."""


class MeshWriter:
    """Writes the frames of one mesh in ascending order; `finish` completes the file. Unchanged values are stored only
    once."""

    def __init__(
        self,
        file: BinaryIO,
        name: str,
        rate: Fraction,
        frames: Sequence[Fraction],
        materials: Sequence[str],
        has: tuple[bool, bool] | None = None,
        colours: bool = False,
    ) -> None:
        """Begin an archive of one mesh, `NAME/NAMEShape`.

        Args:
            file: An empty file, open for writing and seeking.
            name: Name of the object.
            rate: Frames per second.
            frames: Numbers of all frames, in ascending order.
            materials: Names of all materials that faces have in any frame.
            has: Whether faces have UVs and whether they have normals; None if the first frame decides.
            colours: Whether points have colours.
        """
        stated = {"FramesPerTimeUnit": f"{float(rate):f}", "_ai_Application": "meshqc"}
        self._archive = ArchiveWriter(file, stated, [_sampling(rate, frames)])
        self._box = self._archive.top.properties.scalar(".childBnds", "f8", 6, _BOX, _SAMPLING)
        plain = _object_name(name)
        place = self._archive.top.child(plain, {"schema": XFORM, "schemaObjTitle": f"{XFORM}:.xform"})
        place.properties.compound(".xform", {"schema": XFORM})
        mesh = place.child(f"{plain}Shape", {"schema": POLYGONS, "schemaObjTitle": f"{POLYGONS}:.geom", **_BASE})
        geometry = mesh.properties.compound(".geom", {"schema": POLYGONS, **_BASE})
        self._geometry = geometry
        self._bounds = geometry.scalar(".selfBnds", "f8", 6, _BOX, _SAMPLING)
        metadata = {"geoScope": "vtx", "interpretation": "point"}
        self._points = geometry.array("P", "f4", 3, metadata, _SAMPLING)
        self._indices = geometry.array(".faceIndices", "i4", 1, None, _SAMPLING)
        self._counts = geometry.array(".faceCounts", "i4", 1, None, _SAMPLING)
        self._colours = _colours(geometry) if colours else None
        self._parameters: dict[str, tuple[PropertyOut, PropertyOut]] = {}
        self._sets = [_FaceSetOut(mesh, unique) for unique in _object_names(materials)]
        self._has: tuple[bool, bool] | None = None
        if has is not None:
            self._begin(has)
        self._faces: _FacesOut | None = None

    def add(self, frame: Fraction, mesh: MeshSample) -> None:
        """Add one frame.

        Args:
            frame: The frame number.
            mesh: The mesh of the frame, in world space.

        Raises:
            Refusal: UVs or normals exist for only some corners, or in only some frames.
        """
        has = _whole(frame, mesh.vt, "UVs"), _whole(frame, mesh.vn, "normals")
        if not len(mesh.sizes) and self._has is not None:
            has = self._has  # an empty frame shows nothing, so nothing is missing
        if self._has not in (None, has):
            raise Refusal(
                f"only some frames have UVs or normals (frame {float(frame):.14g} differs from other frames); "
                "Alembic needs them in all frames or in none"
            )
        if self._has is None:
            self._begin(has)
        faces = self._faces = _FacesOut.of(mesh, len(self._sets), self._faces)
        points = np.ascontiguousarray(mesh.points, np.float32)
        box = _box(points)
        self._box.add(box)
        self._bounds.add(box)
        self._points.add(points)
        self._indices.add(faces.stored)
        self._counts.add(mesh.sizes)
        if self._colours is not None:
            self._colours.add(np.ascontiguousarray(mesh.colours, np.float32))
        for key, values, slots in (("uv", mesh.uvs, mesh.vt), ("N", mesh.normals, mesh.vn)):
            if key in self._parameters and slots is not None:
                vals, indices = self._parameters[key]
                vals.add(values.astype(np.float32))
                indices.add(slots[faces.order])
        for one, members, corners in zip(self._sets, faces.members, faces.points, strict=True):
            one.add(members, _box(points[corners]))

    def _begin(self, has: tuple[bool, bool]) -> None:
        self._has = has
        if has[0]:
            self._parameters["uv"] = _parameter(self._geometry, "uv", 2, "vector")
        if has[1]:
            self._parameters["N"] = _parameter(self._geometry, "N", 3, "normal")

    def finish(self) -> None:
        self._archive.finish()


@dataclass(frozen=True, slots=True, eq=False)
class _FacesOut:
    """Values that depend only on the faces and their materials, and are reused while these don't change.

    Attributes:
        mesh: The mesh from which the values were computed.
        order: For each stored corner, its index in OBJ's order, (c,).
        stored: Point index of each stored corner, (c,).
        members: Indices of the faces of each material.
        points: Indices of the points of each material's faces.
    """

    mesh: MeshSample
    order: Indices
    stored: Indices
    members: list[Indices]
    points: list[Indices]

    @classmethod
    def of(cls, mesh: MeshSample, materials: int, before: _FacesOut | None) -> _FacesOut:
        if before is not None:
            pairs = [(getattr(mesh, name), getattr(before.mesh, name)) for name in ("sizes", "v", "material_of")]
            if all(one is other or np.array_equal(one, other) for one, other in pairs):
                return before
        order = turned(mesh.sizes)
        face_of_corner = np.repeat(np.arange(len(mesh.sizes)), mesh.sizes)
        material_of_corner = mesh.material_of[face_of_corner]
        members = [np.flatnonzero(mesh.material_of == number) for number in range(materials)]
        points = [np.unique(mesh.v[material_of_corner == number]) for number in range(materials)]
        return cls(mesh, order, mesh.v[order], members, points)


class _FaceSetOut:
    def __init__(self, mesh: ObjectOut, name: str) -> None:
        node = mesh.child(name, {"schema": FACE_SET, "schemaObjTitle": f"{FACE_SET}:.faceset", **_BASE})
        compound = node.properties.compound(".faceset", {"schema": FACE_SET, **_BASE})
        self._bounds = compound.scalar(".selfBnds", "f8", 6, _BOX, _SAMPLING)
        self._faces = compound.array(".faces", "i4", 1, None, _SAMPLING)
        exclusive = compound.scalar(".facesExclusive", "u4")
        exclusive.add(np.array([1]))

    def add(self, members: Indices, box: Values) -> None:
        self._bounds.add(box)
        self._faces.add(members)


def _parameter(geometry: CompoundOut, name: str, extent: int, interpretation: str) -> tuple[PropertyOut, PropertyOut]:
    metadata: Metadata = {
        "arrayExtent": "1",
        "geoScope": "fvr",
        "interpretation": interpretation,
        "isGeomParam": "true",
        "podExtent": str(extent),
        "podName": "float32_t",
    }
    compound = geometry.compound(name, metadata)
    values = compound.array(".vals", "f4", extent, metadata, _SAMPLING)
    return values, compound.array(".indices", "u4", 1, None, _SAMPLING)


def _colours(geometry: CompoundOut) -> PropertyOut:
    """Add a property for the colours of points, under the usual name `Cs` (common practice, no source)."""
    metadata: Metadata = {
        "arrayExtent": "1",
        "geoScope": "vtx",
        "interpretation": "rgb",
        "isGeomParam": "true",
        "podExtent": "3",
        "podName": "float32_t",
    }
    return geometry.compound(".arbGeomParams").array("Cs", "f4", 3, metadata, _SAMPLING)


def _sampling(rate: Fraction, frames: Sequence[Fraction]) -> TimeSampling:
    """Make the time sampling of the frames. It is uniform if the frames are evenly spaced; otherwise, it lists all
    times.
    """
    steps = {after - before for before, after in pairwise(frames)} or {Fraction(1)}
    if len(steps) == 1:
        return TimeSampling(float(steps.pop() / rate), (float(frames[0] / rate),), 0)
    return TimeSampling(ACYCLIC, tuple(float(frame / rate) for frame in frames), 0)


def _box(points: Values) -> Values:
    """Return the minimum and maximum of points, (6,) float64; the format's empty box if there are no points."""
    if not len(points):
        limit = np.finfo(np.float64).max
        return np.array([limit] * 3 + [-limit] * 3)
    return np.concatenate([points.min(axis=0), points.max(axis=0)]).astype(np.float64)


def _whole(frame: Fraction, slots: Indices | None, what: str) -> bool:
    """Return True if all corners have a value, and False if no corner has a value or there are no corners.

    In `slots`, a corner without a value has a negative index. The frame number and `what` are for the message.

    Raises:
        Refusal: Only some corners have a value.
    """
    missing = np.zeros(0, bool) if slots is None else slots < 0
    if missing.any() and not missing.all():
        raise Refusal(
            f"frame {float(frame):.14g}: only some corners have {what}; Alembic needs them at all corners or at none"
        )
    return len(missing) > 0 and not missing.any()


def _object_name(name: str) -> str:
    """Convert a name to a valid name for an object: not empty, without slashes or NUL characters."""
    return name.replace("/", "_").replace("\0", "_") or "mesh"


def _object_names(names: Sequence[str]) -> list[str]:
    """Convert names to distinct, valid names for objects with the same parent."""
    found: list[str] = []
    for name in map(_object_name, names):
        unique, number = name, 2
        while unique in found:
            unique, number = f"{name}_{number}", number + 1
        found.append(unique)
    return found


class ArchiveAnimationWriter:
    """Writes the frames of a sequence as an archive; see `AnimationWriter`."""

    def __init__(self, path: Path, brief: Brief) -> None:
        """Begin an archive.

        Args:
            path: Path of the new file.
            brief: The known properties of the animation. The default frame rate is 24 fps.

        Raises:
            OSError: The file can't be created.
        """
        self._file = path.open("xb")
        self._names = brief.materials
        self._normals = brief.normals
        self._writer = MeshWriter(
            self._file,
            brief.name.text,
            brief.rate or USUAL_RATE,
            brief.frames,
            [one.text for one in brief.materials],
            (brief.uvs, brief.normals),
            brief.colours,
        )

    def add(self, number: Fraction, mesh: Mesh) -> None:
        """Add one frame. If only some faces have normals, the others get their face normals, because the format
        requires normals for all faces.

        Args:
            number: The frame number.
            mesh: The mesh of the frame, in world space.

        Raises:
            Refusal: The format can't hold some content of the mesh.
        """
        try:
            self._writer.add(number, self._sample(number, mesh))
        except BaseException:
            self._file.close()
            raise

    def _sample(self, number: Fraction, mesh: Mesh) -> MeshSample:
        corners = mesh.corners
        if len(corners.v) and int(corners.v.min()) < 0:
            raise Refusal(f"frame {float(number):.14g}: a face has an invalid vertex index, which Alembic can't hold")
        material_of = np.full(len(corners.sizes), -1, np.int64)
        for part in mesh.parts:
            if part.material in self._names:
                material_of[part.start : part.stop] = self._names.index(part.material)
        names = tuple(one.text for one in self._names)
        normals, of_corner = with_face_normals(mesh) if self._normals else (mesh.normals, corners.vn)
        v, vt, vn = (slot.astype(np.int64) for slot in (corners.v, corners.vt, of_corner))
        colours = mesh.colours if len(mesh.colours) else np.ones((len(mesh.positions), 3))
        return MeshSample(mesh.positions, corners.sizes, v, mesh.uvs, vt, normals, vn, names, material_of, (), colours)

    def save(self) -> None:
        """Complete the file.

        Raises:
            OSError: The file can't be written.
        """
        with self._file:
            self._writer.finish()
