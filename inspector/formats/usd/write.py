"""Meshes of all frames as one stage: a mesh with time samples, UVs and material bindings.

Source: OpenUSD, API documents of UsdGeomMesh, UsdGeomPrimvar, UsdShadeMaterialBindingAPI; UsdPreviewSurface
specification. Points are sampled on every frame. What mostly stays (faces, UVs, who has which material) is sampled
around its changes only: before the first it is the default, and nothing is blended across a change.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.errors import Refusal
from inspector.formats.animation import Brief
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Material, Mesh
from inspector.formats.usd.stage import need_library
from inspector.names import Name

_Array = npt.NDArray[Any]


class StageWriter:
    """Takes the frames in order; `save` puts the file on the disk."""

    def __init__(self, path: Path, brief: Brief) -> None:
        """Begin a stage.

        Args:
            path: A new .usdc or .usda file.
            brief: Without a rate readers take 24 frames per second, without a unit 0.01 m.

        Raises:
            MeshqcError: The library is not installed.
        """
        need_library()
        from pxr import Usd, UsdGeom

        self._stage = Usd.Stage.CreateNew(str(path))
        UsdGeom.SetStageUpAxis(self._stage, UsdGeom.Tokens.y)
        if brief.metres is not None:
            UsdGeom.SetStageMetersPerUnit(self._stage, float(brief.metres))
        if brief.rate is not None:
            self._stage.SetTimeCodesPerSecond(float(brief.rate))
            self._stage.SetFramesPerSecond(float(brief.rate))
        root = UsdGeom.Xform.Define(self._stage, f"/{_identifier(brief.name)}")
        self._stage.SetDefaultPrim(root.GetPrim())
        self._root = root.GetPath()
        self._mesh = UsdGeom.Mesh.Define(self._stage, self._root.AppendChild("mesh"))
        self._mesh.CreateSubdivisionSchemeAttr(UsdGeom.Tokens.none)
        self._names = brief.materials
        self._held: dict[str, _Held] = {}
        self._subsets: dict[Name, _Held] = {}
        self._has: tuple[bool, bool] | None = None

    def add(self, number: Fraction, mesh: Mesh) -> None:
        """One more frame. Raises Refusal where some corners have UVs or normals and others don't."""
        from pxr import Vt

        time = float(number)
        if self._has is None:
            self._stage.SetStartTimeCode(time)
            self._materials(mesh.materials)
        self._stage.SetEndTimeCode(time)
        points = np.ascontiguousarray(mesh.positions, np.float32)
        self._mesh.CreatePointsAttr().Set(Vt.Vec3fArray.FromNumpy(points), time)
        if len(points):
            extent = np.array([points.min(axis=0), points.max(axis=0)])
            self._mesh.CreateExtentAttr().Set(Vt.Vec3fArray.FromNumpy(extent), time)
        self._put("counts", self._mesh.CreateFaceVertexCountsAttr(), mesh.corners.sizes, Vt.IntArray, time)
        self._put("v", self._mesh.CreateFaceVertexIndicesAttr(), mesh.corners.v, Vt.IntArray, time)
        has = _whole(number, mesh.corners.vt, "UVs"), _whole(number, mesh.corners.vn, "normals")
        if self._has not in (None, has):
            raise Refusal(f"frame {number}: has UVs or normals and the frames before don't, or the other way round")
        self._has = has
        if has[0]:
            self._primvar("st", "TexCoord2fArray", mesh.uvs[:, :2], mesh.corners.vt, Vt.Vec2fArray, time)
        if has[1]:
            self._primvar("normals", "Normal3fArray", mesh.normals, mesh.corners.vn, Vt.Vec3fArray, time)
        self._bind(mesh, time)

    def save(self) -> None:
        """Write the file. Raises OSError."""
        if not self._stage.GetRootLayer().Save():
            raise OSError(0, "the scene file could not be saved")

    def _put(self, key: str, attribute: Any, value: _Array, kind: Any, time: float) -> None:
        self._held.setdefault(key, _Held(attribute, kind)).put(value, time)

    def _primvar(self, name: str, kind: str, values: _Array, indices: _Array, array: Any, time: float) -> None:
        from pxr import Sdf, UsdGeom, Vt

        primvar = UsdGeom.PrimvarsAPI(self._mesh).CreatePrimvar(
            name, getattr(Sdf.ValueTypeNames, kind), UsdGeom.Tokens.faceVarying
        )
        self._put(name, primvar.GetAttr(), values.astype(np.float32), array, time)
        self._put(f"{name} indices", primvar.CreateIndicesAttr(), indices, Vt.IntArray, time)

    def _materials(self, known: tuple[Material, ...]) -> None:
        """All materials, each with a subset of faces that is empty so far. One that is only named has no colour."""
        from pxr import UsdGeom, UsdShade, Vt

        scope = self._root.AppendChild("materials")
        if self._names:
            UsdGeom.Scope.Define(self._stage, scope)
        defined = {material.name: material for material in known}
        for number, name in enumerate(self._names):
            material = defined.get(name, Material(name))
            label = f"{_identifier(material.name)}_{number + 1}"
            made = _preview_surface(self._stage, scope.AppendChild(label), material)
            binding = UsdShade.MaterialBindingAPI.Apply(self._mesh.GetPrim())
            subset = binding.CreateMaterialBindSubset(label, Vt.IntArray())
            UsdShade.MaterialBindingAPI.Apply(subset.GetPrim()).Bind(made)
            self._subsets[material.name] = _Held(subset.GetIndicesAttr(), Vt.IntArray)

    def _bind(self, mesh: Mesh, time: float) -> None:
        faces: dict[Name, list[_Array]] = {name: [np.zeros(0, np.int64)] for name in self._subsets}
        for part in mesh.parts:
            if part.material is not None and part.material in faces:
                faces[part.material].append(np.arange(part.start, part.stop))
        for name, pieces in faces.items():
            self._subsets[name].put(np.concatenate(pieces), time)


class _Held:
    """An attribute that keeps its value until it changes."""

    def __init__(self, attribute: Any, kind: Any) -> None:
        self._attribute, self._kind = attribute, kind
        self._last: _Array | None = None
        self._time = 0.0

    def put(self, value: _Array, time: float) -> None:
        if self._last is None:
            self._attribute.Set(self._wrapped(value))
        elif value is not self._last and not np.array_equal(value, self._last):
            self._attribute.Set(self._wrapped(self._last), self._time)
            self._attribute.Set(self._wrapped(value), time)
        self._last, self._time = value, time

    def _wrapped(self, value: _Array) -> Any:
        kind = np.int32 if value.dtype.kind == "i" else np.float32
        return self._kind.FromNumpy(np.ascontiguousarray(value, kind))


def _whole(number: Fraction, slots: _Array, what: str) -> bool:
    """Whether every corner has one. Raises Refusal where only some have: the format can't say that."""
    lacking = slots == ABSENT
    if lacking.any() and not lacking.all():
        raise Refusal(f"frame {number}: some corners have {what} and some don't, which OpenUSD can't hold")
    return len(slots) > 0 and not lacking.any()


def _preview_surface(stage: Any, path: Any, material: Material) -> Any:
    """A material of one UsdPreviewSurface, with a texture read by the UVs `st` where it has an image."""
    from pxr import Gf, Sdf, UsdShade

    made = UsdShade.Material.Define(stage, path)
    made.GetPrim().SetDisplayName(material.name.display)
    surface = _shader(stage, path.AppendChild("surface"), "UsdPreviewSurface")
    made.CreateSurfaceOutput().ConnectToSource(surface.ConnectableAPI(), "surface")
    colour = surface.CreateInput("diffuseColor", Sdf.ValueTypeNames.Color3f)
    if material.colour is not None:
        colour.Set(Gf.Vec3f(*material.colour))
    surface.CreateInput("opacity", Sdf.ValueTypeNames.Float).Set(material.opacity)
    if material.image is not None:
        reader = _shader(stage, path.AppendChild("uvs"), "UsdPrimvarReader_float2")
        reader.CreateInput("varname", Sdf.ValueTypeNames.String).Set("st")
        texture = _shader(stage, path.AppendChild("texture"), "UsdUVTexture")
        asset = Sdf.AssetPath(material.image.name.text)
        texture.CreateInput("file", Sdf.ValueTypeNames.Asset).Set(asset)
        if material.colour is not None:  # MTL multiplies the image's colours by Kd, UsdUVTexture by `scale`
            texture.CreateInput("scale", Sdf.ValueTypeNames.Float4).Set(Gf.Vec4f(*material.colour, 1.0))
        texture.CreateInput("st", Sdf.ValueTypeNames.Float2).ConnectToSource(reader.ConnectableAPI(), "result")
        colour.ConnectToSource(texture.ConnectableAPI(), "rgb")
    return made


def _shader(stage: Any, path: Any, kind: str) -> Any:
    from pxr import UsdShade

    shader = UsdShade.Shader.Define(stage, path)
    shader.CreateIdAttr(kind)
    return shader


def _identifier(name: Name) -> str:
    """A name that a prim may have: letters, digits, underscores (Tf.MakeValidIdentifier)."""
    from pxr import Tf

    valid: str = Tf.MakeValidIdentifier(name.display)
    return valid
