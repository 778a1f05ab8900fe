"""Writing the frames of a sequence as a stage: one mesh with time samples, UVs and material bindings.

Points have a sample on every frame. All other values have samples only around their changes, so that no value is
interpolated across a change.

Source: OpenUSD, API documentation of UsdGeomMesh, UsdGeomPrimvar, UsdShadeMaterialBindingAPI; UsdPreviewSurface
specification.
"""

from __future__ import annotations

from bisect import bisect
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.formats.animation import Brief
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Map, Material, Mesh, Slot, with_face_normals
from inspector.formats.usd.stage import need_library
from inspector.formats.wavefront.opacity import TR
from inspector.names import Name

_Array = npt.NDArray[Any]


class StageWriter:
    """Writes the frames of a sequence as a stage; see `AnimationWriter`."""

    def __init__(self, path: Path, brief: Brief) -> None:
        """Begin a stage.

        Args:
            path: Path of a new .usdc or .usda file.
            brief: The known properties of the animation. An unknown frame rate or unit is not written; readers then
                assume 24 fps or 0.01 m.

        Raises:
            MeshqcError: usd-core is not installed, or a memory limit leaves too little memory for it.
        """
        need_library()
        from pxr import Usd, UsdGeom

        self._stage = Usd.Stage.CreateNew(str(path))
        self._brief = brief
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
        if brief.double_sided:
            self._mesh.CreateDoubleSidedAttr(True)
        self._held: dict[str, _Held] = {}
        self._subsets: dict[Name, _Held] = {}
        self._begun = False
        # For each frame after a gap, the first missing frame. The steps between frame numbers don't show where the gaps
        # are, because sub-frames may be close together.
        self._gaps: dict[Fraction, Fraction] = {}
        for number in brief.missing:
            self._gaps.setdefault(brief.frames[bisect(brief.frames, number)], number)

    def add(self, number: Fraction, mesh: Mesh) -> None:
        """Add one frame. If only some faces have normals, all others get their face normals, because the format
        requires normals for all faces.

        Args:
            number: The frame number, which is its time code.
            mesh: The mesh of the frame, in world space.
        """
        from pxr import Vt

        time = float(number)
        if not self._begun:
            self._stage.SetStartTimeCode(time)
            self._materials(mesh.materials)
            self._begun = True
        self._stage.SetEndTimeCode(time)
        if number in self._gaps:
            self._hide(float(self._gaps[number]), time)
        points = np.ascontiguousarray(mesh.positions, np.float32)
        self._mesh.CreatePointsAttr().Set(Vt.Vec3fArray.FromNumpy(points), time)
        if len(points):
            extent = np.array([points.min(axis=0), points.max(axis=0)])
            self._mesh.CreateExtentAttr().Set(Vt.Vec3fArray.FromNumpy(extent), time)
        self._put("counts", self._mesh.CreateFaceVertexCountsAttr(), mesh.corners.sizes, Vt.IntArray, time)
        self._put("v", self._mesh.CreateFaceVertexIndicesAttr(), mesh.corners.v, Vt.IntArray, time)
        if self._brief.uvs:
            uvs, vt = self._uvs(mesh)
            primvar = self._primvar("st", "TexCoord2fArray", uvs, vt, Vt.Vec2fArray, time)
            if self._brief.partial_uvs:
                primvar.SetUnauthoredValuesIndex(0)
        if self._brief.normals:
            normals, vn = with_face_normals(mesh)
            self._primvar("normals", "Normal3fArray", normals, vn, Vt.Vec3fArray, time)
        if self._brief.colours:
            self._colours(mesh, time)
        self._bind(mesh, time)

    def _hide(self, start: float, stop: float) -> None:
        """Hide the mesh from `start`, the first missing frame, until `stop`, because readers would otherwise
        interpolate its points.
        """
        from pxr import UsdGeom

        visibility = self._mesh.CreateVisibilityAttr()
        if not visibility.GetNumTimeSamples():
            visibility.Set(UsdGeom.Tokens.inherited, self._stage.GetStartTimeCode())
        visibility.Set(UsdGeom.Tokens.invisible, start)
        visibility.Set(UsdGeom.Tokens.inherited, stop)

    def _uvs(self, mesh: Mesh) -> tuple[_Array, _Array]:
        """Return the UVs, and the index of each corner's UV. If any frame has corners without a UV, a UV for these
        corners is added at the start.
        """
        uvs, vt = mesh.uvs[:, :2], mesh.corners.vt
        if not self._brief.partial_uvs:
            return uvs, vt
        return np.concatenate([np.zeros((1, 2)), uvs]), vt - ABSENT

    def _colours(self, mesh: Mesh, time: float) -> None:
        from pxr import UsdGeom, Vt

        primvar = self._mesh.CreateDisplayColorPrimvar(UsdGeom.Tokens.vertex)
        colours = mesh.colours if len(mesh.colours) else np.ones((len(mesh.positions), 3))
        self._put("displayColor", primvar.GetAttr(), colours, Vt.Vec3fArray, time)

    def save(self) -> None:
        """Write the file.

        Raises:
            OSError: The file can't be written.
        """
        if not self._stage.GetRootLayer().Save():
            raise OSError(0, "the scene file could not be saved")

    def _put(self, key: str, attribute: Any, value: _Array, kind: Any, time: float) -> None:
        self._held.setdefault(key, _Held(attribute, kind)).put(value, time)

    def _primvar(self, name: str, kind: str, values: _Array, indices: _Array, array: Any, time: float) -> Any:
        from pxr import Sdf, UsdGeom, Vt

        primvar = UsdGeom.PrimvarsAPI(self._mesh).CreatePrimvar(
            name, getattr(Sdf.ValueTypeNames, kind), UsdGeom.Tokens.faceVarying
        )
        self._put(name, primvar.GetAttr(), values.astype(np.float32), array, time)
        self._put(f"{name} indices", primvar.CreateIndicesAttr(), indices, Vt.IntArray, time)
        return primvar

    def _materials(self, known: tuple[Material, ...]) -> None:
        """Write all materials, each with an empty subset of faces for `_bind`. A material without a definition gets no
        colour.
        """
        from pxr import UsdGeom, UsdShade, Vt

        scope = self._root.AppendChild("materials")
        if self._names:
            UsdGeom.Scope.Define(self._stage, scope)
        defined = {material.name: material for material in known}
        taken: set[str] = set()
        for name in self._names:
            material = defined.get(name, Material(name))
            plain = label = _identifier(material.name)
            number = 2
            while label in taken:
                label, number = f"{plain}_{number}", number + 1
            taken.add(label)
            made = _preview_surface(self._stage, scope.AppendChild(label), material)
            if label != material.name.display:
                made.GetPrim().SetDisplayName(material.name.display)
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
    """An attribute that is written only when its value changes."""

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


_INPUTS = {
    Slot.COLOUR: ("diffuseColor", "Color3f", "rgb"),
    Slot.OPACITY: ("opacity", "Float", "r"),
    Slot.ROUGHNESS: ("roughness", "Float", "r"),
    Slot.METALLIC: ("metallic", "Float", "r"),
    Slot.NORMAL: ("normal", "Normal3f", "rgb"),
    Slot.EMISSIVE: ("emissiveColor", "Color3f", "rgb"),
}
"""For each slot, the input of UsdPreviewSurface, its type, and the texture output to use if the map states no
channel.
"""


def _preview_surface(stage: Any, path: Any, material: Material) -> Any:
    """Write a material as a UsdPreviewSurface. Its textures use the UV set `st`."""
    from pxr import Gf, Sdf, UsdShade

    made = UsdShade.Material.Define(stage, path)
    surface = _shader(stage, path.AppendChild("surface"), "UsdPreviewSurface")
    if material.tr is not None:
        made.GetPrim().SetCustomDataByKey(TR, material.tr)
    made.CreateSurfaceOutput().ConnectToSource(surface.ConnectableAPI(), "surface")
    values: dict[Slot, Any] = {
        Slot.COLOUR: None if material.colour is None else Gf.Vec3f(*material.colour),
        Slot.OPACITY: material.opacity,
        Slot.ROUGHNESS: material.roughness,
        Slot.METALLIC: material.metallic,
        Slot.EMISSIVE: None if material.emissive is None else Gf.Vec3f(*material.emissive),
    }
    for slot, (name, kind, _) in _INPUTS.items():
        if values.get(slot) is not None:
            surface.CreateInput(name, getattr(Sdf.ValueTypeNames, kind)).Set(values[slot])
    if material.maps:
        reader = _shader(stage, path.AppendChild("uvs"), "UsdPrimvarReader_float2")
        reader.CreateInput("varname", Sdf.ValueTypeNames.String).Set("st")
    for one in material.maps:
        name, kind, output = _INPUTS[one.slot]
        label = "texture" if one.slot is Slot.COLOUR else f"texture_{one.slot.value}"
        texture = _texture(stage, path.AppendChild(label), one, values.get(one.slot))
        texture.CreateInput("st", Sdf.ValueTypeNames.Float2).ConnectToSource(reader.ConnectableAPI(), "result")
        given = surface.CreateInput(name, getattr(Sdf.ValueTypeNames, kind))
        given.ConnectToSource(texture.ConnectableAPI(), one.channel or output)
    return made


def _texture(stage: Any, path: Any, one: Map, factor: Any) -> Any:
    """At `path`, write a shader that reads the texture of a map. The scale of the texture is `factor`, as in MTL; for a
    normal map, the scale and the bias follow from the map's strength.
    """
    from pxr import Gf, Sdf

    texture = _shader(stage, path, "UsdUVTexture")
    texture.CreateInput("file", Sdf.ValueTypeNames.Asset).Set(Sdf.AssetPath(one.image.name.text))
    if one.slot is Slot.NORMAL:  # values from 0 to 1 stand for -1 to 1 (UsdPreviewSurface specification, "normal")
        s = one.strength
        texture.CreateInput("scale", Sdf.ValueTypeNames.Float4).Set(Gf.Vec4f(2 * s, 2 * s, 2, 1))
        texture.CreateInput("bias", Sdf.ValueTypeNames.Float4).Set(Gf.Vec4f(-s, -s, -1, 0))
    elif factor is not None:
        rgb = factor if one.slot in (Slot.COLOUR, Slot.EMISSIVE) else (factor, factor, factor)
        alpha = factor if one.channel == "a" else 1.0
        texture.CreateInput("scale", Sdf.ValueTypeNames.Float4).Set(Gf.Vec4f(*rgb, alpha))
    if one.slot not in (Slot.COLOUR, Slot.EMISSIVE):
        texture.CreateInput("sourceColorSpace", Sdf.ValueTypeNames.Token).Set("raw")
    for key in ("wrapS", "wrapT"):
        texture.CreateInput(key, Sdf.ValueTypeNames.Token).Set("clamp" if one.clamp else "repeat")
    return texture


def _shader(stage: Any, path: Any, kind: str) -> Any:
    from pxr import UsdShade

    shader = UsdShade.Shader.Define(stage, path)
    shader.CreateIdAttr(kind)
    return shader


def _identifier(name: Name) -> str:
    """Convert a name to a valid name for a prim: letters, digits and underscores only (Tf.MakeValidIdentifier)."""
    from pxr import Tf

    valid: str = Tf.MakeValidIdentifier(name.display)
    return valid
