"""Reading the materials of a stage. Source: OpenUSD, UsdShadeMaterialBindingAPI, UsdPreviewSurface specification."""

from __future__ import annotations

import io
import os
import re
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import cos, radians, sin
from pathlib import Path
from typing import Any

import numpy as np

from inspector.arrays import Indices
from inspector.formats.mesh import Colour, Image, LeftOut, Map, Material, Numbers, Part, Slot, separate_uvs
from inspector.formats.wavefront.opacity import TR, kept_tr
from inspector.names import Name, safe
from inspector.safe_open import read_place

_GREY = (0.18, 0.18, 0.18)  # diffuseColor's fallback (UsdPreviewSurface specification)
_INPUTS = {
    Slot.COLOUR: "diffuseColor",
    Slot.OPACITY: "opacity",
    Slot.ROUGHNESS: "roughness",
    Slot.METALLIC: "metallic",
    Slot.NORMAL: "normal",
    Slot.EMISSIVE: "emissiveColor",
}
_OTHERS = {"clearcoat": 0.0, "displacement": 0.0, "opacityThreshold": 0.0, "useSpecularWorkflow": 0}
"""For each input of UsdPreviewSurface that is not carried over, the value that has no effect."""
_COLOURS = (Slot.COLOUR, Slot.EMISSIVE)
_CHANNELS = "rgba"
_TILE = re.compile(r"<UDIM>")
_TILES = range(1001, 1101)  # a hundred tiles, ten per row


@dataclass(frozen=True, slots=True)
class PrimvarUvs:
    """The UVs that a map uses.

    Attributes:
        name: Name of the primvar; "" if the file states none.
        scale: Scale of the transform (UsdTransform2d).
        rotation: Rotation of the transform, in degrees, counter-clockwise.
        translation: Translation of the transform.
    """

    name: str = ""
    scale: tuple[float, float] = (1.0, 1.0)
    rotation: float = 0.0
    translation: tuple[float, float] = (0.0, 0.0)

    @property
    def still(self) -> bool:
        """Whether the transform leaves the UVs unchanged."""
        return self == PrimvarUvs(self.name)

    def applied(self, uvs: Numbers) -> Numbers:
        """Scale, then rotate, then move UVs (UsdPreviewSurface specification, UsdTransform2d)."""
        if self.still:
            return uvs
        u, v = (uvs.astype(np.float64) * self.scale).T
        c, s = cos(radians(self.rotation)), sin(radians(self.rotation))
        return np.column_stack([c * u - s * v, s * u + c * v]) + self.translation


@dataclass(frozen=True, slots=True)
class Bound:
    """The materials bound to the faces of a mesh.

    Attributes:
        parts: Runs of consecutive faces with the same material.
        layouts: The distinct combinations of primvar and transform, at least one. A material uses the combination of
            its colour map or, if it has no colour map, of its first map.
        layout_of_face: Index in `layouts` for each face, (f,).
        losses: Properties of the materials that are not carried over.
    """

    parts: tuple[Part, ...]
    layouts: tuple[PrimvarUvs, ...]
    layout_of_face: Indices
    losses: tuple[LeftOut, ...] = ()

    @property
    def read_sets(self) -> tuple[str, ...]:
        """Names of the UV sets that the materials read."""
        return tuple(layout.name for layout in self.layouts if layout.name)


@dataclass(frozen=True, slots=True)
class _Known:
    material: Material
    layout: PrimvarUvs
    losses: tuple[LeftOut, ...]


class MaterialTable:
    """The materials of a stage, in the order of discovery, each with a distinct name."""

    def __init__(self, folders: Sequence[Path]) -> None:
        """Begin an empty table.

        Args:
            folders: Folders that may be read, with all links resolved. Textures outside them are not opened.
        """
        self._folders = folders
        self._known: dict[str, _Known] = {}
        self._images: dict[str, Image] = {}

    @property
    def materials(self) -> tuple[Material, ...]:
        """The materials found so far."""
        return tuple(one.material for one in self._known.values())

    def bound(self, prim: Any, faces: int, time: Any) -> Bound:
        """Find the materials of a mesh. Bindings of face subsets override the binding of the mesh.

        Args:
            prim: The mesh's prim.
            faces: Number of faces of the mesh.
            time: The Usd.TimeCode.
        """
        from pxr import UsdGeom, UsdShade

        binding = UsdShade.MaterialBindingAPI(prim)
        found: list[_Known | None] = [self._bound(binding)]
        of_face = np.zeros(faces, np.int64)
        for subset in binding.GetMaterialBindSubsets():
            indices = np.asarray(UsdGeom.Subset(subset).GetIndicesAttr().Get(time) or [], np.int64)
            of_face[indices[(indices >= 0) & (indices < faces)]] = len(found)
            found.append(self._bound(UsdShade.MaterialBindingAPI(subset.GetPrim())) or found[0])
        path = Name(str(prim.GetPath()).lstrip("/").encode())
        starts = [0, *(np.flatnonzero(np.diff(of_face)) + 1).tolist(), faces]
        names = [None if one is None else one.material.name for one in found]
        parts = tuple(
            Part(start, stop, path, names[of_face[start]]) for start, stop in pairwise(starts) if stop > start
        )
        layouts = [PrimvarUvs() if one is None else one.layout for one in found]
        distinct = tuple(dict.fromkeys(layouts))
        which = np.array([distinct.index(one) for one in layouts], np.int64)
        used = [found[number] for number in np.unique(of_face)]
        losses = dict.fromkeys(loss for one in used if one is not None for loss in one.losses)
        return Bound(parts, distinct, which[of_face], tuple(losses))

    def _bound(self, binding: Any) -> _Known | None:
        material = binding.ComputeBoundMaterial()[0]
        if not material:
            return None
        path = str(material.GetPath())
        if path not in self._known:
            self._known[path] = self._read(material)
        return self._known[path]

    def _read(self, material: Any) -> _Known:
        prim = material.GetPrim()
        wanted = name = prim.GetDisplayName() or prim.GetName()
        taken = {str(one.name) for one in self.materials}
        number = 2
        while name in taken:
            name, number = f"{wanted}_{number}", number + 1
        surface = material.ComputeSurfaceSource()[0]
        kind = surface.GetIdAttr().Get() if surface else None
        if kind != "UsdPreviewSurface":
            other = f"its surface is {safe(str(kind))}, not UsdPreviewSurface" if kind else "it has no surface"
            lost = LeftOut(f"everything except the name of material {safe(name)} ({other})", seen=True)
            return _Known(Material(Name(name.encode())), PrimvarUvs(), (lost,))
        return _SurfaceReading(self, surface, name, prim.GetCustomDataByKey(TR)).known()

    def image(self, texture: Any) -> Image | None:
        """Return the image that a texture shader reads; None if the shader doesn't refer to a file."""
        asset = _value(texture, "file")
        if asset is None or not asset.path:
            return None
        whole = asset.path.encode("utf-8", "surrogateescape")
        if _TILE.search(asset.path):
            return Image(Name(whole.replace(b"\\", b"/").rsplit(b"/", 1)[-1]), None, self._tiles(texture, asset))
        key = asset.resolvedPath or asset.path
        if key not in self._images:
            data = self._content(asset.resolvedPath) if asset.resolvedPath else None
            name = whole if data is None else whole.replace(b"\\", b"/").rsplit(b"/", 1)[-1]
            self._images[key] = Image(Name(name), data)
        return self._images[key]

    def _tiles(self, texture: Any, asset: Any) -> tuple[tuple[int, bytes], ...]:
        """Return the number and the bytes of each tile that can be read (UsdPreviewSurface specification, "UDIM")."""
        from pxr import Ar

        attribute = texture.GetInput("file").GetValueProducingAttributes()[0]
        layer = attribute.GetPropertyStack()[0].layer
        found = []
        for number in _TILES:
            where = layer.ComputeAbsolutePath(_TILE.sub(str(number), asset.path))
            resolved = str(Ar.GetResolver().Resolve(where)) if where else ""
            data = self._content(resolved) if resolved else None
            if data is not None:
                found.append((number, data))
        return tuple(found)

    def _content(self, resolved: str) -> bytes | None:
        """Return the bytes of a texture, which may be inside a .usdz file; None if the texture is outside the allowed
        folders, or can't be read.
        """
        from pxr import Ar

        packed = Ar.IsPackageRelativePath(resolved)
        outer, inner = Ar.SplitPackageRelativePathOuter(resolved) if packed else (resolved, "")
        target = Path(os.path.realpath(outer))
        if not any(target.is_relative_to(folder) for folder in self._folders):
            return None
        try:
            data = read_place(target)
            return _unpacked(data, inner) if packed else data
        except (OSError, zipfile.BadZipFile, KeyError, ValueError, RuntimeError):  # RuntimeError: an encrypted file
            return None


class _SurfaceReading:
    """Reads one UsdPreviewSurface."""

    def __init__(self, table: MaterialTable, surface: Any, name: str, tr: object) -> None:
        self._table, self._surface, self._name, self._tr = table, surface, name, tr
        self._maps: list[Map] = []
        self._factors: dict[Slot, tuple[float, ...]] = {}
        self._layouts: dict[Slot, PrimvarUvs] = {}
        self._missing: list[str] = []

    def known(self) -> _Known:
        for slot, name in _INPUTS.items():
            self._connected(slot, name)
        colour = self._colour(Slot.COLOUR, _GREY)
        emissive = self._colour(Slot.EMISSIVE, None)
        stated = self._number(Slot.OPACITY)
        opacity = 1.0 if stated is None else stated
        self._further()
        layout = next(iter(self._layouts.values()), PrimvarUvs())
        self._missing += separate_uvs(self._layouts, layout)
        text = f"material {safe(self._name)}: {', '.join(dict.fromkeys(self._missing))}"
        material = Material(
            Name(self._name.encode()),
            colour,
            opacity,
            self._number(Slot.ROUGHNESS),
            self._number(Slot.METALLIC),
            emissive if emissive and (any(emissive) or Slot.EMISSIVE in self._factors) else None,
            tuple(self._maps),
            kept_tr(self._tr, opacity),
        )
        return _Known(material, layout, (LeftOut(text, seen=True),) if self._missing else ())

    def _connected(self, slot: Slot, name: str) -> None:
        """Read the texture, if any, that is connected to an input."""
        from pxr import UsdShade

        given = self._surface.GetInput(name)
        if not given or not given.HasConnectedSource():
            return
        source = next(iter(given.GetValueProducingAttributes()), None)
        if source is None:
            self._missing.append(f"its {slot.value} (connected to nothing)")
            return
        shader = UsdShade.Shader(source.GetPrim())
        if not UsdShade.Output.IsOutput(source):  # the value comes from an input of the material
            return
        kind = shader.GetIdAttr().Get() if shader else None
        if kind != "UsdUVTexture":
            self._missing.append(f"its {slot.value} (computed by {safe(str(kind)) if kind else 'an unknown shader'})")
            return
        image = self._table.image(shader)
        if image is None:
            self._missing.append(f"its {slot.value} map without an image")
            return
        output = str(source.GetBaseName())
        channel = output if slot not in (*_COLOURS, Slot.NORMAL) and output in _CHANNELS else ""
        wraps = [_value(shader, key) for key in ("wrapS", "wrapT")]
        if len(set(wraps)) > 1 or wraps[0] in ("black", "mirror"):
            self._missing.append(f"the wrapping of its {slot.value} map ({safe(' and '.join(map(str, wraps)))})")
        strength = self._scaled(slot, shader, channel)
        self._maps.append(Map(slot, image, channel, strength, clamp=wraps == ["clamp"] * 2))
        self._layouts[slot] = self._layout(shader)

    def _scaled(self, slot: Slot, shader: Any, channel: str) -> float:
        """Read the scale and bias of a texture. The scale becomes the factor of the map's slot, except for normal maps.

        Returns:
            The strength of a normal map; 1 for any other map.
        """
        scale = tuple(map(float, _value(shader, "scale") or (1, 1, 1, 1)))
        bias = tuple(map(float, _value(shader, "bias") or (0, 0, 0, 0)))
        if slot is Slot.NORMAL:
            strength = scale[0] / 2
            signed = (2 * strength, 2 * strength, 2.0), (-strength, -strength, -1.0)
            plain = (1.0, 1.0, 1.0), (0.0, 0.0, 0.0)
            if (scale[:3], bias[:3]) not in (signed, plain):
                self._missing.append("the scale and bias of its normal map")
            return strength if (scale[:3], bias[:3]) == signed else 1.0
        at = _CHANNELS.index(channel) if channel else 0
        self._factors[slot] = scale[:3] if slot in _COLOURS else (scale[at],)
        if any(bias[:3] if slot in _COLOURS else bias[at : at + 1]):
            self._missing.append(f"the bias of its {slot.value} map")
        return 1.0

    def _layout(self, texture: Any) -> PrimvarUvs:
        """Read the primvar and the UV transform that a texture uses."""
        reader = _source(texture, "st")
        scale, rotation, translation = (1.0, 1.0), 0.0, (0.0, 0.0)
        if reader is not None and reader.GetIdAttr().Get() == "UsdTransform2d":
            scale, translation = (
                (float(pair[0]), float(pair[1]))
                for pair in (_value(reader, "scale") or (1, 1), _value(reader, "translation") or (0, 0))
            )
            rotation = float(_value(reader, "rotation") or 0.0)
            reader = _source(reader, "in")
        name = _value(reader, "varname") if reader is not None else None
        return PrimvarUvs(str(name or ""), scale, rotation, translation)

    def _colour(self, slot: Slot, fallback: Colour | None) -> Colour | None:
        given = self._factors.get(slot) or _value(self._surface, _INPUTS[slot]) or fallback
        return None if given is None else (float(given[0]), float(given[1]), float(given[2]))

    def _number(self, slot: Slot) -> float | None:
        if slot in self._factors:
            return None if self._factors[slot] == (1.0,) else self._factors[slot][0]
        given = _value(self._surface, _INPUTS[slot])
        return None if given is None else float(given)

    def _further(self) -> None:
        for name, still in _OTHERS.items():
            given = self._surface.GetInput(name)
            if given and (given.HasConnectedSource() or (_value(self._surface, name) or still) != still):
                self._missing.append(f"its {name}")
        occlusion = self._surface.GetInput("occlusion")
        if occlusion and occlusion.HasConnectedSource():
            self._missing.append("its occlusion map")


def _unpacked(package: bytes, name: str) -> bytes | None:
    """Read a file inside a .usdz file; None if it is compressed, which the format doesn't allow (OpenUSD, "Usdz file
    format specification").
    """
    with zipfile.ZipFile(io.BytesIO(package)) as files:
        return files.read(name) if files.getinfo(name).compress_type == zipfile.ZIP_STORED else None


def _source(shader: Any, name: str) -> Any:
    """Return the shader that is connected to an input; None if there is none."""
    from pxr import UsdShade

    given = shader.GetInput(name)
    producers = given.GetValueProducingAttributes() if given and given.HasConnectedSource() else []
    return UsdShade.Shader(producers[0].GetPrim()) if producers else None


def _value(shader: Any, name: str) -> Any:
    """Return the value of a shader's input; None if there is no value. The value may come from an input of the
    material.
    """
    given = shader.GetInput(name) if shader else None
    producers = given.GetValueProducingAttributes() if given else []
    return producers[0].Get() if producers else None
