"""Tests that each kind of data in a format is either read or reported as left out."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pxr import Gf, Sdf, Usd, UsdGeom, UsdShade, UsdSkel

from inspector.formats.animation import Take
from inspector.formats.files import gltf, off, ply, stl
from inspector.formats.mesh import Mesh, Slot
from inspector.formats.registry import all_formats
from inspector.sequence.discovery.animations import open_animation
from tests.helpers.alembic import add_face_set, add_mesh, archive_bytes, put
from tests.helpers.gltf import FLOAT, POINTS, UVS, nowhere, scene, triangle
from tests.helpers.images import image_file, spots

CORNERS = POINTS.astype(float).tolist()


@dataclass(frozen=True)
class Came:
    mesh: Mesh
    named: tuple[str, ...]


Kept = Callable[[Mesh], bool]
Row = tuple[Any, "Kept | str"]
"""A file, or a function that makes it, and the expected result.

If the data is kept, the result is a function that checks the mesh. If the data is lost, the result is a part of the
sentence about the loss.
"""


def uvs(mesh: Mesh) -> bool:
    return bool(np.allclose(mesh.uvs[mesh.corners.vt], UVS))


def normals(mesh: Mesh) -> bool:
    return bool(np.allclose(mesh.normals[mesh.corners.vn], [(0, 0, 1)] * 3))


def colours(mesh: Mesh) -> bool:
    return bool(np.allclose(mesh.colours, np.eye(3)))


def objects(mesh: Mesh) -> bool:
    return [part.object and part.object.text.rpartition("/")[2] for part in mesh.parts] == ["kelp"]


def materials(mesh: Mesh) -> bool:
    return [part.material and part.material.text for part in mesh.parts] == ["wet"]


def lifted(mesh: Mesh) -> bool:
    return bool(np.allclose(mesh.positions, np.add(POINTS, (0, 0, 1))))


def has_map(slot: Slot) -> Kept:
    return lambda mesh: [one.slot for material in mesh.materials for one in material.maps if one.slot is slot] == [slot]


# PLY: G. Turk, 1994; the names of properties are common practice.


def ply_text(vertex: str = "", face: str = "", rows: str = "", faces: str = "3 0 1 2", more: str = "") -> bytes:
    """Return a triangle as the text of a PLY file.

    Args:
        vertex: Additional properties of vertices, separated by semicolons.
        face: Additional properties of faces, separated by semicolons.
        rows: Values of the additional properties of vertices: three rows, separated by semicolons.
        faces: The row of the face.
        more: "texture" adds a texture comment, and "edge" adds an edge element.
    """
    each = rows.split(";") if rows else [""] * 3
    lines = [
        *("ply", "format ascii 1.0", "comment TextureFile skin.png" if more == "texture" else "comment"),
        *("element vertex 3", *(f"property float {axis}" for axis in "xyz"), *filter(None, vertex.split(";"))),
        *("element face 1", "property list uchar int vertex_indices", *filter(None, face.split(";"))),
        *(("element edge 1", "property int vertex1") if more == "edge" else ()),
        "end_header",
        *(f"{x:g} {y:g} {z:g} {own}" for (x, y, z), own in zip(CORNERS, each, strict=True)),
        *(faces, *(("0",) if more == "edge" else ())),
    ]
    return "\n".join([*lines, ""]).encode()


RGB = "property uchar red;property uchar green;property uchar blue"
TINTS = "255 0 0;0 255 0;0 0 255"
PLY: Mapping[str, Row] = {
    "UVs": (ply_text("property float s;property float t", rows="0 0;1 0;0 0.25"), uvs),
    "UVs of corners": (ply_text(face="property list uchar float texcoord", faces="3 0 1 2 6 0 0 1 0 0 0.25"), uvs),
    "normals": (ply_text("property float nx;property float ny;property float nz", rows="0 0 1;0 0 1;0 0 1"), normals),
    "colours": (ply_text(RGB, rows=TINTS), colours),
    "opacity of colours": (
        ply_text(f"{RGB};property uchar alpha", rows="255 0 0 9;0 255 0 9;0 0 255 9"),
        "the opacity of vertex colours",
    ),
    "colours of faces": (ply_text(face=RGB, faces="3 0 1 2 1 2 3"), "face colours"),
    "further numbers": (ply_text("property float heat", rows="1;2;3"), "vertex properties: heat"),
    "further elements": (ply_text(more="edge"), "the PLY element `edge`"),
    "texture": (ply_text(more="texture"), "TextureFile skin.png"),
}

FACET = "facet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 0 2 0\nendloop\nendfacet\n"
STL: Mapping[str, Row] = {
    "objects": (f"solid kelp\n{FACET}endsolid kelp\n".encode(), objects),
    "attributes": (bytes(80) + b"\1\0\0\0" + bytes(48) + b"\1\0", "triangle attributes"),
}

# OFF: Geomview manual, "OFF Files".
OFF: Mapping[str, Row] = {
    "UVs": (b"STOFF\n3 1 0\n0 0 0 0 0\n1 0 0 1 0\n0 2 0 0 0.25\n3 0 1 2\n", uvs),
    "normals": (b"NOFF\n3 1 0\n0 0 0 0 0 1\n1 0 0 0 0 1\n0 2 0 0 0 1\n3 0 1 2\n", normals),
    "colours": (b"COFF\n3 1 0\n0 0 0 1 0 0 1\n1 0 0 0 1 0 1\n0 2 0 0 0 1 1\n3 0 1 2\n", colours),
    "opacity of colours": (
        b"COFF\n3 1 0\n0 0 0 1 0 0 0.5\n1 0 0 0 1 0 1\n0 2 0 0 0 1 1\n3 0 1 2\n",
        "the opacity of vertex colours",
    ),
    "colours of faces": (b"OFF\n3 1 0\n0 0 0\n1 0 0\n0 2 0\n3 0 1 2 1 0 0\n", "face colours"),
}


# glTF: Khronos, glTF 2.0 specification.


def glb(
    attributes: Mapping[str, np.ndarray] | None = None,
    material: Mapping[str, Any] | None = None,
    node: Mapping[str, Any] | None = None,
    primitive: Mapping[str, Any] | None = None,
    **more: Any,
) -> Callable[[], bytes]:
    """Return a function that makes a GLB that holds a triangle and the given content. All textures use the same
    image."""

    def make() -> bytes:
        document, own = triangle(**(primitive or {}), **({} if material is None else {"material": 0}))
        for name, values in (attributes or {}).items():
            shape = {1: "SCALAR", 2: "VEC2", 3: "VEC3", 4: "VEC4"}[values.shape[1]]
            kind = 5121 if values.dtype == np.uint8 else FLOAT
            own["attributes"][name] = document.array(values, kind, shape)
        pixels = np.dstack([spots(), np.full(spots().shape[:2], 128, np.uint8)])
        document.views.append(document.bytes(image_file(pixels)))
        parts = {
            "images": [{"bufferView": len(document.views) - 1, "mimeType": "image/png", "name": "skin"}],
            "textures": [{"source": 0}],
            "materials": [{"name": "wet", **(material or {})}],
        }
        return document.glb({**scene([own], **(node or {})), **parts, **more})

    return make


def morphed() -> bytes:
    document, primitive = triangle()
    primitive["targets"] = [{"POSITION": document.array(np.array([(0, 0, 2)] * 3, np.float32), FLOAT, "VEC3")}]
    whole = scene([primitive])
    whole["meshes"][0]["weights"] = [0.5]
    return document.glb(whole)


def bound() -> bytes:
    document, primitive = triangle()
    primitive["attributes"] |= {
        "JOINTS_0": document.array(np.zeros((3, 4), np.uint8), 5121, "VEC4"),
        "WEIGHTS_0": document.array(np.array([(1, 0, 0, 0)] * 3, np.float32), FLOAT, "VEC4"),
    }
    nodes = [{"mesh": 0, "skin": 0}, {"translation": [0, 0, 1]}]
    parts = {"meshes": [{"primitives": [primitive]}], "nodes": nodes, "scenes": [{"nodes": [0, 1]}]}
    return document.glb({**parts, "skins": [{"joints": [1]}]})


def beside(mode: int) -> bytes:
    document, primitive = triangle()
    return document.glb(scene([primitive, {**primitive, "mode": mode}]))


def moved(mesh: Mesh) -> bool:
    """Return whether KHR_texture_transform has moved the UVs by its offset. glTF's UVs start at the top left."""
    return bool(np.allclose(mesh.uvs[mesh.corners.vt], [(0.5, 1), (1.5, 1), (0.5, 0.75)]))


def gltf_uvs(mesh: Mesh) -> bool:
    return bool(np.allclose(mesh.uvs[mesh.corners.vt], np.column_stack([UVS[:, 0], 1 - UVS[:, 1]])))


TEXTURE = {"index": 0}
UP = np.array([(0, 0, 1)] * 3, np.float32)
SURFACE = {"baseColorTexture": TEXTURE, "metallicRoughnessTexture": TEXTURE}
SHIFTED = {"index": 0, "extensions": {"KHR_texture_transform": {"offset": [0.5, 0]}}}
GLTF: Mapping[str, Row] = {
    "UVs": (glb(), gltf_uvs),
    "further UVs": (glb({"TEXCOORD_1": UVS}), "UV sets that the first texture map does not use"),
    "transforms of UVs": (glb(material={"pbrMetallicRoughness": {"baseColorTexture": SHIFTED}}), moved),
    "normals": (glb({"NORMAL": UP}), normals),
    "colours": (glb({"COLOR_0": np.eye(3, dtype=np.float32)}), colours),
    "opacity of colours": (glb({"COLOR_0": np.full((3, 4), 0.5, np.float32)}), "the opacity of vertex colours"),
    "objects": (glb(node={"name": "kelp"}), objects),
    "materials": (glb(material={}), materials),
    "colour map": (glb(material={"pbrMetallicRoughness": SURFACE}), has_map(Slot.COLOUR)),
    "roughness map": (glb(material={"pbrMetallicRoughness": SURFACE}), has_map(Slot.ROUGHNESS)),
    "metallic map": (glb(material={"pbrMetallicRoughness": SURFACE}), has_map(Slot.METALLIC)),
    "opacity map": (glb(material={"pbrMetallicRoughness": SURFACE, "alphaMode": "BLEND"}), has_map(Slot.OPACITY)),
    "normal map": (glb(material={"normalTexture": TEXTURE}), has_map(Slot.NORMAL)),
    "emissive map": (glb(material={"emissiveTexture": TEXTURE, "emissiveFactor": [1, 1, 1]}), has_map(Slot.EMISSIVE)),
    "occlusion map": (glb(material={"occlusionTexture": TEXTURE}), "material wet: its occlusion map"),
    "further surfaces": (glb(material={"extensions": {"KHR_materials_clearcoat": {}}}), "KHR_materials_clearcoat"),
    "morph targets": (morphed, lifted),
    "skins": (bound, lifted),
    "animations": (glb(animations=[{}]), "animations (1)"),
    "cameras": (glb(cameras=[{}]), "cameras (1)"),
    "further scenes": (glb(scenes=[{"nodes": [0]}, {}]), "scenes other than the default scene (1)"),
    "lines": (beside(1), "lines"),
    "points": (beside(0), "points that belong to no face"),
    "points alone": (glb(primitive={"mode": 0}), lambda mesh: bool(np.allclose(mesh.positions, POINTS))),
    "copies": (glb(node={"name": "kelp", "extensions": {"EXT_mesh_gpu_instancing": {}}}), "copies of kelp"),
}


# OpenUSD: API documentation of UsdGeom, UsdShade and UsdSkel, and the UsdPreviewSurface specification.


def usd_mesh(stage: Usd.Stage) -> UsdGeom.Mesh:
    mesh = UsdGeom.Mesh.Define(stage, "/kelp")
    mesh.CreatePointsAttr(CORNERS)
    mesh.CreateFaceVertexCountsAttr([3])
    mesh.CreateFaceVertexIndicesAttr([0, 1, 2])
    mesh.CreateSubdivisionSchemeAttr("none")
    return mesh


def primvar(name: str, kind: str, scope: str, values: Any) -> Callable[[Usd.Stage, UsdGeom.Mesh], None]:
    def fill(_: Usd.Stage, mesh: UsdGeom.Mesh) -> None:
        UsdGeom.PrimvarsAPI(mesh).CreatePrimvar(name, getattr(Sdf.ValueTypeNames, kind), scope).Set(values)

    return fill


TWO = UVS.astype(float).tolist()


def surface(slot: str, kind: str, output: str, **inputs: Any) -> Callable[[Usd.Stage, UsdGeom.Mesh], None]:
    def fill(stage: Usd.Stage, mesh: UsdGeom.Mesh) -> None:
        primvar("st", "TexCoord2fArray", "vertex", TWO)(stage, mesh)
        material = UsdShade.Material.Define(stage, "/wet")
        shader = UsdShade.Shader.Define(stage, "/wet/surface")
        shader.CreateIdAttr("UsdPreviewSurface")
        material.CreateSurfaceOutput().ConnectToSource(shader.ConnectableAPI(), "surface")
        if slot:
            texture = UsdShade.Shader.Define(stage, "/wet/texture")
            texture.CreateIdAttr("UsdUVTexture")
            texture.CreateInput("file", Sdf.ValueTypeNames.Asset).Set("./skin.png")
            given = shader.CreateInput(slot, getattr(Sdf.ValueTypeNames, kind))
            given.ConnectToSource(texture.ConnectableAPI(), output)
            if "moved" in inputs:
                turn = UsdShade.Shader.Define(stage, "/wet/moved")
                turn.CreateIdAttr("UsdTransform2d")
                turn.CreateInput("translation", Sdf.ValueTypeNames.Float2).Set(Gf.Vec2f(*inputs["moved"]))
                texture.CreateInput("st", Sdf.ValueTypeNames.Float2).ConnectToSource(turn.ConnectableAPI(), "result")
        UsdShade.MaterialBindingAPI.Apply(mesh.GetPrim()).Bind(material)

    return fill


def posed(stage: Usd.Stage, mesh: UsdGeom.Mesh) -> None:
    UsdSkel.Root.Define(stage, "/rig")
    stage.RemovePrim(mesh.GetPath())
    inside = UsdGeom.Mesh.Define(stage, "/rig/kelp")
    inside.CreatePointsAttr(CORNERS)
    inside.CreateFaceVertexCountsAttr([3])
    inside.CreateFaceVertexIndicesAttr([0, 1, 2])
    inside.CreateSubdivisionSchemeAttr("none")
    skeleton = UsdSkel.Skeleton.Define(stage, "/rig/bones")
    skeleton.CreateJointsAttr(["root"])
    skeleton.CreateBindTransformsAttr([Gf.Matrix4d(1)])
    skeleton.CreateRestTransformsAttr([Gf.Matrix4d().SetTranslate((0, 0, 1))])
    binding = UsdSkel.BindingAPI.Apply(inside.GetPrim())
    binding.CreateSkeletonRel().SetTargets([skeleton.GetPath()])
    binding.CreateJointIndicesPrimvar(False, 1).Set([0] * 3)
    binding.CreateJointWeightsPrimvar(False, 1).Set([1.0] * 3)


def subset(stage: Usd.Stage, mesh: UsdGeom.Mesh) -> None:
    del stage
    UsdGeom.Subset.CreateGeomSubset(mesh, "tips", "face", [0], "anatomy")


def define(path: str, kind: str) -> Callable[[Usd.Stage, UsdGeom.Mesh], None]:
    return lambda stage, _: stage.DefinePrim(path, kind) and None


def cage(_: Usd.Stage, mesh: UsdGeom.Mesh) -> None:
    mesh.CreateSubdivisionSchemeAttr("catmullClark")


def holes(_: Usd.Stage, mesh: UsdGeom.Mesh) -> None:
    mesh.CreateHoleIndicesAttr([0])


def usd_moved(mesh: Mesh) -> bool:
    return bool(np.allclose(mesh.uvs[mesh.corners.vt], np.add(UVS, (0.5, 0))))


USD: Mapping[str, Row] = {
    "UVs": (primvar("st", "TexCoord2fArray", "vertex", TWO), uvs),
    "further UVs": (
        lambda stage, mesh: [primvar(name, "TexCoord2fArray", "vertex", TWO)(stage, mesh) for name in ("st", "wet")],
        "all but one UV set per mesh (sets: st, wet); the main set, or the set given with --uv-set, is kept",
    ),
    "transforms of UVs": (surface("diffuseColor", "Color3f", "rgb", moved=(0.5, 0)), usd_moved),
    "normals": (primvar("normals", "Normal3fArray", "vertex", UP.astype(float).tolist()), normals),
    "colours": (primvar("displayColor", "Color3fArray", "vertex", np.eye(3).tolist()), colours),
    "colours of corners": (primvar("displayColor", "Color3fArray", "faceVarying", np.eye(3).tolist()), "per corner"),
    "opacity": (primvar("displayOpacity", "FloatArray", "constant", [0.5]), "displayOpacity"),
    "objects": (lambda *_: None, objects),
    "groups": (subset, "face groups without a material of their own (1 GeomSubset prim)"),
    "materials": (surface("", "", ""), materials),
    "colour map": (surface("diffuseColor", "Color3f", "rgb"), has_map(Slot.COLOUR)),
    "roughness map": (surface("roughness", "Float", "g"), has_map(Slot.ROUGHNESS)),
    "metallic map": (surface("metallic", "Float", "b"), has_map(Slot.METALLIC)),
    "opacity map": (surface("opacity", "Float", "a"), has_map(Slot.OPACITY)),
    "normal map": (surface("normal", "Normal3f", "rgb"), has_map(Slot.NORMAL)),
    "emissive map": (surface("emissiveColor", "Color3f", "rgb"), has_map(Slot.EMISSIVE)),
    "occlusion map": (surface("occlusion", "Float", "r"), "material wet: its occlusion map"),
    "further surfaces": (surface("clearcoat", "Float", "r"), "material wet: its clearcoat"),
    "skeletons": (posed, lifted),
    "subdivision": (cage, "(1 of 1 mesh); control cages are used"),
    "holes": (holes, "holes (holeIndices)"),
    "curves": (define("/hair", "BasisCurves"), "BasisCurves"),
    "cameras and lights": (define("/sun", "DistantLight"), "objects that are never visible in a picture: DistantLight"),
    "copies": (define("/forest", "PointInstancer"), "copies made by point instancers (/forest)"),
}


# Alembic: the reference library's schemas (from memory).


def abc_with(name: str, values: Any, **metadata: str) -> Callable[[Any], None]:
    def fill(writer: Any) -> None:
        geometry = add_mesh(writer.top, points=[POINTS], faces=[(0, 1, 2)]).geometry
        array = np.array(values, np.float32)
        where = geometry if name in ("uv", "N") else geometry.compound(".arbGeomParams")
        put(where.array(name, "f4", array.shape[1], metadata), [array])

    return fill


def abc_two_sets(writer: Any) -> None:
    geometry = add_mesh(writer.top, points=[POINTS], faces=[(0, 1, 2)]).geometry
    put(geometry.array("uv", "f4", 2, {"geoScope": "vtx"}), [UVS])
    more = geometry.compound(".arbGeomParams")
    put(more.array("wet", "f4", 2, {"geoScope": "vtx", "interpretation": "vector"}), [UVS])


def abc_material(writer: Any) -> None:
    add_face_set(add_mesh(writer.top, points=[POINTS], faces=[(0, 1, 2)]).node, "wet", [0])


def abc_beside(schema: str) -> Callable[[Any], None]:
    def fill(writer: Any) -> None:
        add_mesh(writer.top, points=[POINTS], faces=[(0, 1, 2)])
        writer.top.child("other", {"schema": f"AbcGeom_{schema}"})

    return fill


ABC: Mapping[str, Row] = {
    "UVs": (abc_with("uv", UVS, geoScope="vtx"), uvs),
    "further UVs": (abc_two_sets, "all but one UV set per mesh"),
    "normals": (abc_with("N", UP, geoScope="vtx"), normals),
    "colours": (abc_with("tint", np.eye(3), geoScope="vtx", interpretation="rgb"), colours),
    "colours of corners": (
        abc_with("tint", np.eye(3)[[0, 1, 2]], geoScope="fvr", interpretation="rgb"),
        lambda mesh: bool(np.allclose(mesh.colours, np.eye(3)[[0, 2, 1]])),
    ),
    "opacity of colours": (
        abc_with("tint", np.full((3, 4), 0.5), geoScope="vtx", interpretation="rgba"),
        "the opacity of vertex colours",
    ),
    "objects": (lambda writer: add_mesh(writer.top, points=[POINTS], faces=[(0, 1, 2)]), objects),
    "materials": (abc_material, materials),
    "curves": (abc_beside("Curve_v2"), "curves (1)"),
    "cameras": (abc_beside("Camera_v1"), "cameras (1)"),
}
TABLES: Mapping[str, Mapping[str, Row]] = {"ply": PLY, "stl": STL, "off": OFF, "gltf": GLTF, "usd": USD, "abc": ABC}


def read(form: str, make: Any, tmp_path: Path) -> Came:
    if form == "usd":
        stage = Usd.Stage.CreateNew(str(tmp_path / "shot.usda"))
        make(stage, usd_mesh(stage))
        stage.Save()
        (tmp_path / "skin.png").write_bytes(image_file(spots()))
    if form == "abc":
        (tmp_path / "shot.abc").write_bytes(archive_bytes(make))
    if form in ("usd", "abc"):
        animation = open_animation(next(tmp_path.glob("shot.*")))
        mesh = animation.mesh(Fraction(1), Take())
        return Came(mesh, tuple(one.what for one in (*animation.notes, *animation.left_out)))
    readers = {"ply": ply.read, "stl": stl.read, "off": off.read, "gltf": gltf.read}
    mesh = readers[form](make() if callable(make) else make, nowhere)
    return Came(mesh, tuple(one.what for one in mesh.left_out))


def test_every_format_has_a_table() -> None:
    """OBJ has no table, because it is tested in wavefront/. GLB has none, because its content is that of glTF."""
    assert TABLES.keys() | {"obj", "glb"} == {one.id for one in all_formats()}, "write a table of its rows into TABLES"


@pytest.mark.parametrize(("form", "row"), [(form, row) for form, table in TABLES.items() for row in table])
def test_what_a_file_holds_is_read_or_named(form: str, row: str, tmp_path: Path) -> None:
    make, expected = TABLES[form][row]
    came = read(form, make, tmp_path)
    assert len(came.mesh.positions) == 3
    if isinstance(expected, str):
        assert any(expected in said for said in came.named), came.named
    else:
        assert expected(came.mesh), came.mesh
        assert not came.named
