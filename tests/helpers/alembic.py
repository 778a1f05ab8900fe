"""Alembic archives for tests: a worked example of the format, and archives that the package's own writer makes."""

from __future__ import annotations

import io
import os
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.formats.alembic.archive import Archive
from inspector.formats.alembic.scene import ArchiveScene
from inspector.formats.alembic.times import TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter, CompoundOut, ObjectOut, PropertyOut

FILM = TimeSampling(1 / 24, (1 / 24,), 0)

EXAMPLE = bytes.fromhex(
    "4f67617761ff00014c040000000000004000000000000000fb992b81a5ef6ae9fc3f09cfe1bfd0bc0000000000000000"
    "00000000000000000000000000000000000000000000f03f000000000000f03f000000000000e03f0100000000000000"
    "100000000000008040000000000000004c1291a7a8a7c9fd3aa7348fcd77cd280000000000000000000000000000803f"
    "00000000000000000000803f0000803f00000000000000000000803f0000000040000000000000006d0b011bc8f6b417"
    "08d047b0e5e7e41d00000000000000000000003f0000803f000000000000003f0000803f0000803f0000003f00000000"
    "0000803f0000003f040000000000000068000000000000800000000000000080b0000000000000800000000000000080"
    "200000000000000052acaefed8cddc777b6aa8747b807bde000000000300000002000000010000000200000000000000"
    "200100000000008000000000000000801400000000000000f05783c945e9c31c8a9c42083615d38b0400000002000000"
    "0000000060010000000000800000000000000080300000000000000062063d9a6e11fb6de34568860ce3acc600000000"
    "000000000000803f000000000000803f0000803f000000000000803f0200000000000000940100000000008000000000"
    "000000804500000000000000b16c100001092e73656c66426e6473a231200002010150621d000002010c2e6661636549"
    "6e6469636573631d000002010b2e66616365436f756e7473a22930000201027576060000000000000058000000000000"
    "00f80000000000000048010000000000007c01000000000000cc01000000000000e4010000000000800a000000000000"
    "0000004000052e67656f6d02000000000000003102000000000000690200000000008020000000000000000000000000"
    "00000000000000000000000000000000000000000000000000000002000000000000007b020000000000009302000000"
    "000080260000000000000001000000710500000000000000000000000000000000000000000000000000000000000000"
    "0003000000000000000000000000000000bb02000000000000d302000000000080040000000000000000000000040000"
    "00000000003c2a000014000000000000004672616d657350657254696d65556e69743d32343000000000000000010000"
    "00000000000000f03f01000000000000000000000002000000555555555555a53f01000000555555555555a53fb70000"
    "000000000012696e746572707265746174696f6e3d626f782167656f53636f70653d7674783b696e7465727072657461"
    "74696f6e3d706f696e742267656f53636f70653d7674783b696e746572707265746174696f6e3d766563746f721a7363"
    "68656d613d41626347656f6d5f506f6c794d6573685f763143736368656d613d41626347656f6d5f506f6c794d657368"
    "5f76313b736368656d614f626a5469746c653d41626347656f6d5f506f6c794d6573685f76313a2e67656f6d06000000"
    "0000000021030000000000802d030000000000800103000000000000390300000000008055030000000000808d030000"
    "00000080"
)
"""An archive with the object `/q`: a quad with UVs and 2 samples, written by hand from the layout of the format.

The expected values are those that the reference library reads.
"""

MESH = {"schema": "AbcGeom_PolyMesh_v1", "schemaObjTitle": "AbcGeom_PolyMesh_v1:.geom"}
CAGE = {"schema": "AbcGeom_SubD_v1", "schemaObjTitle": "AbcGeom_SubD_v1:.geom"}
XFORM = {"schema": "AbcGeom_Xform_v3", "schemaObjTitle": "AbcGeom_Xform_v3:.xform"}
FACE_SET = {"schema": "AbcGeom_FaceSet_v1", "schemaObjTitle": "AbcGeom_FaceSet_v1:.faceset"}
SQUARE = [(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)]
CUBE = [(x, y, z) for x in (0, 1) for y in (0, 1) for z in (0, 1)]
CUBE_FACES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
"""The vertices of each face of the cube, counter-clockwise as seen from outside."""

Samples = Sequence[Any]


def archive_bytes(
    fill: Callable[[ArchiveWriter], Any], samplings: Sequence[TimeSampling] = (FILM,), **metadata: str
) -> bytes:
    file = io.BytesIO()
    writer = ArchiveWriter(file, metadata, samplings)
    fill(writer)
    writer.finish()
    return file.getvalue()


def archive_at(path: Path, data: bytes) -> Archive:
    path.write_bytes(data)
    return Archive(os.open(path, os.O_RDONLY))


def scene_at(
    path: Path, fill: Callable[[ArchiveWriter], Any], samplings: Sequence[TimeSampling] = (FILM,), **metadata: str
) -> ArchiveScene:
    return ArchiveScene(archive_at(path, archive_bytes(fill, samplings, **metadata)))


@dataclass(frozen=True, slots=True)
class MeshNode:
    """A mesh that is being written. `geometry` is the compound property that contains its arrays."""

    node: ObjectOut
    geometry: CompoundOut


def put(one: PropertyOut, samples: Samples) -> PropertyOut:
    for sample in samples:
        one.add(sample)
    one.finish()
    return one


def add_mesh(
    parent: ObjectOut,
    name: str = "kelp",
    points: Samples = (SQUARE,),
    faces: Sequence[Sequence[int]] = ((0, 1, 2, 3),),
    *,
    metadata: dict[str, str] | None = None,
    sampling: int = 1,
) -> MeshNode:
    """Add a mesh.

    Args:
        parent: The parent object.
        name: The name of the mesh.
        points: The positions, (n, 3), for each sample.
        faces: The vertices of each face, counter-clockwise. They are stored clockwise, as the format requires.
        metadata: The metadata; by default that of a polygon mesh.
        sampling: The index of the time sampling.
    """
    node = parent.child(name, metadata or MESH)
    geometry = node.properties.compound(".geom", {"schema": (metadata or MESH)["schema"]})
    arrays = [np.array(one, np.float32).reshape(-1, 3) for one in points]
    stored = [index for face in faces for index in (face[0], *face[:0:-1])]
    put(geometry.scalar(".selfBnds", "f8", 6, {"interpretation": "box"}, sampling), [_box(one) for one in arrays])
    put(geometry.array("P", "f4", 3, {"geoScope": "vtx", "interpretation": "point"}, sampling), arrays)
    put(geometry.array(".faceIndices", "i4", 1, None, sampling), [np.array(stored, np.int32)])
    put(geometry.array(".faceCounts", "i4", 1, None, sampling), [np.array([len(one) for one in faces], np.int32)])
    return MeshNode(node, geometry)


def add_xform(
    parent: ObjectOut, name: str, operations: Sequence[int], samples: Samples = (), *, sampling: int = 1
) -> ObjectOut:
    """Add a transform.

    Args:
        parent: The parent object.
        name: The name of the transform.
        operations: The code of each operation, from 0 (scale) to 6 (rotate about z).
        samples: The values of all channels, for each sample.
        sampling: The index of the time sampling.
    """
    node = parent.child(name, XFORM)
    compound = node.properties.compound(".xform", {"schema": XFORM["schema"]})
    if operations:
        codes = np.array([code << 4 for code in operations], np.uint8)
        put(compound.scalar(".ops", "u1", len(operations)), [codes])
        put(compound.scalar(".vals", "f8", len(samples[0]), None, sampling), [np.array(one, float) for one in samples])
    return node


def add_face_set(mesh: ObjectOut, name: str, *samples: Sequence[int]) -> None:
    compound = mesh.child(name, FACE_SET).properties.compound(".faceset", {"schema": FACE_SET["schema"]})
    put(compound.array(".faces", "i4", 1, None, 1), [np.array(one, np.int32) for one in samples])


def show(node: ObjectOut, *values: int) -> None:
    """Add an object's visibility, one value per sample: 1 is visible, 0 is hidden, and -1 is inherited."""
    put(node.properties.scalar("visible", "i1", 1, None, 1), [np.array([value]) for value in values])


def volume(points: npt.ArrayLike, faces: Sequence[Sequence[int]]) -> float:
    """Return the signed volume of a closed mesh (divergence theorem), positive if its faces point outward."""
    corners = np.asarray(points, float)
    fans = [(face[0], face[number], face[number + 1]) for face in faces for number in range(1, len(face) - 1)]
    return float(sum(np.dot(corners[a], np.cross(corners[b], corners[c])) for a, b, c in fans) / 6)


def _box(points: npt.NDArray[Any]) -> npt.NDArray[Any]:
    return np.concatenate([points.min(axis=0), points.max(axis=0)]) if len(points) else np.zeros(6)
