"""What other readers find in a delivery of each format, compared with the source.

tinyobjloader for OBJ, trimesh for PLY, STL, OFF and GLB, usd-core for USD, the reference library's binding for Alembic.
The maps and opacities of materials are in test_scene_materials.py, read by trimesh, Pillow and usd-core.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import tinyobjloader
import trimesh

from inspector.sequence.run.scan import load_frame
from tests.delivery.test_carried import FORMATS, LIBRARY, SOURCES, delivered
from tests.helpers import alembic_binding

Rows = set[tuple[float, ...]]
Found = Mapping[str, Rows]
"""What corners of faces have: "points" alone, or points with "UVs", "normals" or "colours"."""
NOTHING: Found = {"points": set()}


def rows(*columns: np.ndarray) -> Rows:
    table = np.round(np.column_stack([np.asarray(one, np.float64) for one in columns]), 2) + 0.0
    return set(map(tuple, table.tolist()))


def with_obj(out: Path, number: int) -> Found | None:
    path = out / f"kelp.{number:04d}.obj"
    if not path.exists():
        return None
    config, reader = tinyobjloader.ObjReaderConfig(), tinyobjloader.ObjReader()
    config.triangulate = False
    assert reader.ParseFromFile(str(path), config)
    attributes = reader.GetAttrib()
    indices = [one for shape in reader.GetShapes() for one in shape.mesh.indices]
    points = np.reshape(attributes.vertices, (-1, 3))[[one.vertex_index for one in indices]]
    slots = {
        "UVs": (np.reshape(attributes.texcoords, (-1, 2)), [one.texcoord_index for one in indices]),
        "normals": (np.reshape(attributes.normals, (-1, 3)), [one.normal_index for one in indices]),
        "colours": (np.reshape(attributes.colors, (-1, 3)), [one.vertex_index for one in indices]),
    }
    found = {"points": rows(points) if len(points) else set()}
    for name, (values, slot) in slots.items():
        has = np.asarray(slot, np.int64) >= 0
        if len(values) and has.any():
            found[name] = rows(points[has], values[np.asarray(slot)[has]])
    return found


def with_trimesh(ending: str) -> Callable[[Path, int], Found | None]:
    def read(out: Path, number: int) -> Found | None:
        path = out / f"kelp.{number:04d}.{ending}"
        if not path.exists():
            return None
        try:
            scene = trimesh.load(path, process=False, force="scene")
        except (ValueError, IndexError, AttributeError):
            return NOTHING  # it reads no file without vertices
        found: dict[str, Rows] = {"points": set(), "UVs": set(), "normals": set(), "colours": set()}
        for mesh in scene.geometry.values():  # our nodes move nothing
            if not isinstance(mesh, trimesh.Trimesh) or not len(mesh.faces):
                continue
            used = np.unique(mesh.faces)
            found["points"] |= rows(mesh.vertices[used])
            uvs = getattr(mesh.visual, "uv", None)
            if uvs is not None:
                found["UVs"] |= rows(mesh.vertices[used], uvs[used])
            if ending == "glb":
                found["normals"] |= rows(mesh.vertices[used], mesh.vertex_normals[used])
                colours = mesh.visual.vertex_attributes.get("color")
                if colours is not None:
                    found["colours"] |= rows(mesh.vertices[used], colours[used, :3])
        return found

    return read


def with_usd(out: Path, number: int) -> Found | None:
    from pxr import Usd, UsdGeom

    stage = Usd.Stage.Open(str(out / "kelp.usdc"))
    found: dict[str, Rows] = {"points": set(), "UVs": set(), "normals": set(), "colours": set()}
    for prim in stage.Traverse():
        mesh = UsdGeom.Mesh(prim)
        if not mesh or mesh.ComputeVisibility(number) == UsdGeom.Tokens.invisible:
            continue
        v = np.array(mesh.GetFaceVertexIndicesAttr().Get(number) or [], np.int64)
        if not len(v):
            continue
        points = np.array(mesh.GetPointsAttr().Get(number), np.float64)
        found["points"] |= rows(points[v])
        api = UsdGeom.PrimvarsAPI(mesh)
        for name, slot in (("st", "UVs"), ("normals", "normals"), ("displayColor", "colours")):
            primvar = api.GetPrimvar(name)
            values = primvar.ComputeFlattened(number) if primvar else None
            kind = primvar.GetInterpolation() if primvar else mesh.GetNormalsInterpolation()
            if values is None and slot == "normals":
                values, kind = mesh.GetNormalsAttr().Get(number), mesh.GetNormalsInterpolation()
            if values is not None and len(values):
                of_points = kind in ("vertex", "varying")
                found[slot] |= rows(points[v], np.array(values)[v] if of_points else np.array(values))
    return found


def with_abc(out: Path, number: int) -> Found | None:
    theirs = alembic_binding.read([out / "kelp.abc"])[0]
    found: dict[str, Rows] = {"points": set()}
    first = min(SOURCES[out.parent.name])
    for mesh in theirs.values():
        geometry = mesh.get("properties", {}).get(".geom", {})
        if "P" not in geometry:
            continue
        at = number - first
        stored = [geometry[name]["values"] for name in ("P", ".faceIndices")]
        points, v = (np.asarray(one[min(at, len(one) - 1)]) for one in stored)
        if len(v):
            found["points"] |= rows(points.reshape(-1, 3)[v])
    return found


READERS: Mapping[str, tuple[Callable[[Path, int], Found | None], tuple[str, ...]]] = {
    "obj": (with_obj, ("points", "UVs", "normals", "colours")),
    "ply": (with_trimesh("ply"), ("points", "UVs")),
    "stl": (with_trimesh("stl"), ("points",)),
    "off": (with_trimesh("off"), ("points",)),
    "glb": (with_trimesh("glb"), ("points", "UVs", "normals", "colours")),
    "usd": (with_usd, ("points", "UVs", "normals", "colours")),
    "abc": (with_abc, ("points",)),
}
"""Format -> its other reader, and what that reader gives."""


def of_source(path: Path) -> Found:
    frame = load_frame(path)
    v, vt, vn = frame.corners.v, frame.corners.vt, frame.corners.vn
    found = {"points": rows(frame.positions[v]) if len(v) else set()}
    if len(v) and len(frame.uvs):
        found["UVs"] = rows(frame.positions[v], frame.uvs[vt][:, :2])
        found["normals"] = rows(frame.positions[v], frame.normals[vn])
    if len(v) and len(frame.colours):
        found["colours"] = rows(frame.positions[v], frame.colours[v])
    return found


def test_every_format_has_another_reader() -> None:
    assert set(READERS) == set(FORMATS), (
        "READERS, above, has another library's reader for each format that is written, and what it gives; only in one "
        f"of READERS and FORMATS: {sorted(set(READERS) ^ set(FORMATS))}"
    )


@pytest.mark.parametrize("source", ["all", "topology", "gap", "empty"])
@pytest.mark.parametrize("form", READERS)
def test_other_readers_find_what_the_source_has(form: str, source: str, tmp_path: Path) -> None:
    if form == "abc" and importlib.util.find_spec("alembic3d") is None:
        pytest.skip("alembic3d has no wheel for this machine")
    place = tmp_path / source
    place.mkdir()
    came: Any = delivered(place, form, source)
    assert not came.refused
    read, given = READERS[form]
    (place / source / "kelp.mtl").write_bytes(LIBRARY)
    numbers = range(min(SOURCES[source]), max(SOURCES[source]) + 1)
    for number in numbers:
        theirs = read(place / "out", number)
        path = place / source / f"kelp.{number:04d}.obj"
        if not path.exists():  # a gap: no file, or nothing that is seen
            assert form == "abc" or theirs is None or not theirs["points"], number
            continue
        assert theirs is not None, number
        ours = of_source(path)
        for name in given if ours["points"] else ("points",):
            if name in ours:
                assert theirs.get(name, set()) == ours[name], (number, name)
