"""Tests that other readers find the same values in deliveries as in the source.

The readers are tinyobjloader for OBJ, trimesh for PLY, STL, OFF and GLB, usd-core for USD, and the reference library's
binding for Alembic.
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

from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Slot
from inspector.sequence.run.scan import load_frame
from tests.delivery.test_carried import FORMATS, LIBRARY, SOURCES, delivered
from tests.helpers import alembic_binding

Rows = set[tuple[float, ...]]
Found = Mapping[str, Rows]
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
            return NOTHING  # trimesh can't read files without vertices
        found: dict[str, Rows] = {"points": set(), "UVs": set(), "normals": set(), "colours": set()}
        for mesh in scene.geometry.values():  # our nodes have no transforms
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
                corners = np.array(values)[v] if kind in ("vertex", "varying") else np.array(values)
                has = _authored(primvar, len(v), number)
                if has.any():
                    found[slot] |= rows(points[v[has]], corners[has])
    return found


def _authored(primvar: Any, count: int, number: int) -> np.ndarray:
    """Return a mask of the corners that have a value. Source: OpenUSD, UsdGeomPrimvar, "unauthored values index"."""
    none = primvar.GetUnauthoredValuesIndex() if primvar else -1
    indices = primvar.GetIndices(number) if none >= 0 else None
    return np.ones(count, bool) if indices is None else np.array(indices) != none


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
        if not len(v):
            continue
        points = points.reshape(-1, 3)
        found["points"] |= rows(points[v])
        for name, slot, width in (("uv", "UVs", 2), ("N", "normals", 3)):
            values = _of_corners(geometry.get(name), at, width)
            if values is not None:
                found[slot] = found.get(slot, set()) | rows(points[v], values if len(values) == len(v) else values[v])
    return found


def _of_corners(stored: Any, at: int, width: int) -> np.ndarray | None:
    if stored is None:
        return None
    plain = stored if "values" in stored else stored[".vals"]
    values = np.reshape(plain["values"][min(at, len(plain["values"]) - 1)], (-1, width))
    if "values" in stored:
        return values
    indices = stored[".indices"]["values"]
    return np.asarray(values[np.asarray(indices[min(at, len(indices) - 1)], np.int64)])


READERS: Mapping[str, tuple[Callable[[Path, int], Found | None], tuple[str, ...]]] = {
    "obj": (with_obj, ("points", "UVs", "normals", "colours")),
    "ply": (with_trimesh("ply"), ("points", "UVs")),
    "stl": (with_trimesh("stl"), ("points",)),
    "off": (with_trimesh("off"), ("points",)),
    "glb": (with_trimesh("glb"), ("points", "UVs", "normals", "colours")),
    "usd": (with_usd, ("points", "UVs", "normals", "colours")),
    "abc": (with_abc, ("points", "UVs", "normals")),
}
"""For each format, a function that reads it with another library, and the kinds of values that the function returns."""


def of_source(path: Path) -> Found:
    frame = load_frame(path)
    v, vt, vn = frame.corners.v, frame.corners.vt, frame.corners.vn
    found = {"points": rows(frame.positions[v]) if len(v) else set()}
    for name, values, slot in (("UVs", frame.uvs[:, :2], vt), ("normals", frame.normals, vn)):
        has = slot != ABSENT
        if has.any():
            found[name] = rows(frame.positions[v[has]], values[slot[has]])
    if len(v) and len(frame.colours):
        found["colours"] = rows(frame.positions[v], frame.colours[v])
    return found


def test_every_format_has_another_reader() -> None:
    assert set(READERS) == set(FORMATS), (
        "READERS, above, has another library's reader for each format that is written, and what it gives; only in one "
        f"of READERS and FORMATS: {sorted(set(READERS) ^ set(FORMATS))}"
    )


PAIRS = [(form, source) for form in READERS for source in ("all", "partial", "topology", "gap", "empty")]
PAIRS.remove(("ply", "partial"))  # neither trimesh nor meshio can read a PLY with an empty list of UVs


@pytest.mark.parametrize(("form", "source"), PAIRS)
def test_other_readers_find_what_the_source_has(form: str, source: str, tmp_path: Path) -> None:
    if form == "abc" and importlib.util.find_spec("alembic3d") is None:
        pytest.skip("alembic3d has no wheel for this machine")
    place = tmp_path / source
    place.mkdir()
    came: Any = delivered(place, form, source)
    if form == "abc" and source == "partial":
        assert "only some faces have UVs, and " in came.refused
        return
    assert not came.refused
    read, given = READERS[form]
    (place / source / "kelp.mtl").write_bytes(LIBRARY)
    numbers = range(min(SOURCES[source]), max(SOURCES[source]) + 1)
    for number in numbers:
        theirs = read(place / "out", number)
        path = place / source / f"kelp.{number:04d}.obj"
        if not path.exists():  # a gap: there is no file, or nothing is visible
            assert form == "abc" or theirs is None or not theirs["points"], number
            continue
        assert theirs is not None, number
        ours = of_source(path)
        for name in given if ours["points"] else ("points",):
            if name in ours:
                assert theirs.get(name, set()) == ours[name], (number, name)


def maps_of_obj(out: Path) -> set[tuple[str, Slot]]:
    reader = tinyobjloader.ObjReader()
    assert reader.ParseFromFile(str(out / "kelp.0001.obj"), tinyobjloader.ObjReaderConfig())
    names = {
        Slot.COLOUR: "diffuse_texname",
        Slot.OPACITY: "alpha_texname",
        Slot.ROUGHNESS: "roughness_texname",
        Slot.METALLIC: "metallic_texname",
        Slot.NORMAL: "normal_texname",
        Slot.EMISSIVE: "emissive_texname",
    }
    return {(one.name, slot) for one in reader.GetMaterials() for slot, name in names.items() if getattr(one, name)}


def maps_of_glb(out: Path) -> set[tuple[str, Slot]]:
    scene = trimesh.load(out / "kelp.0001.glb", process=False, force="scene")
    found = set()
    for mesh in scene.geometry.values():
        one = mesh.visual.material
        packed = one.metallicRoughnessTexture is not None
        alpha = one.alphaMode == "BLEND" and one.baseColorTexture is not None
        given = {
            Slot.COLOUR: one.baseColorTexture is not None,
            Slot.OPACITY: alpha and one.baseColorTexture.mode == "RGBA",
            Slot.ROUGHNESS: packed,
            Slot.METALLIC: packed,
            Slot.NORMAL: one.normalTexture is not None,
            Slot.EMISSIVE: one.emissiveTexture is not None,
        }
        found |= {(one.name, slot) for slot, there in given.items() if there}
    return found


def maps_of_usd(out: Path) -> set[tuple[str, Slot]]:
    from pxr import Usd, UsdShade

    names = {
        Slot.COLOUR: "diffuseColor",
        Slot.OPACITY: "opacity",
        Slot.ROUGHNESS: "roughness",
        Slot.METALLIC: "metallic",
        Slot.NORMAL: "normal",
        Slot.EMISSIVE: "emissiveColor",
    }
    found = set()
    stage = Usd.Stage.Open(str(out / "kelp.usdc"))
    for prim in stage.Traverse():
        surface = UsdShade.Material(prim).ComputeSurfaceSource()[0] if prim.IsA(UsdShade.Material) else None
        for slot, name in names.items():
            given = surface.GetInput(name) if surface else None
            if given and given.HasConnectedSource():
                texture = UsdShade.Shader(given.GetConnectedSources()[0][0].source.GetPrim())
                assert (out / texture.GetInput("file").Get().path).is_file()
                found.add((prim.GetName(), slot))
    return found


WHITE = ("stem", Slot.COLOUR)
"""A map that GLB adds, because glTF stores opacity in the alpha of the colour image (glTF 2.0, 3.9.2)."""


@pytest.mark.parametrize(
    ("form", "read", "more"), [("obj", maps_of_obj, set()), ("glb", maps_of_glb, {WHITE}), ("usd", maps_of_usd, set())]
)
def test_other_readers_find_five_maps_and_an_opacity_map(
    form: str, read: Callable[[Path], set[tuple[str, Slot]]], more: set[tuple[str, Slot]], tmp_path: Path
) -> None:
    delivered(tmp_path, form, "all")
    five = {("blade", slot) for slot in Slot if slot is not Slot.OPACITY}
    assert read(tmp_path / "out") == five | {("stem", Slot.OPACITY)} | more
