"""The materials of a stage. Source: OpenUSD, UsdShadeMaterialBindingAPI, UsdPreviewSurface specification."""

from __future__ import annotations

import io
import os
import zipfile
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np

from inspector.formats.mesh import Image, Material, Part
from inspector.names import Name
from inspector.safe_open import read_place

_GREY = (0.18, 0.18, 0.18)  # diffuseColor's fallback (UsdPreviewSurface specification)


class MaterialTable:
    """The materials met in a stage, each once, in the order met; names that repeat are made distinct."""

    def __init__(self, folder: Path) -> None:
        """folder: textures outside it are not opened."""
        self._folder = folder
        self._known: dict[str, Material] = {}

    @property
    def materials(self) -> tuple[Material, ...]:
        return tuple(self._known.values())

    def parts(self, prim: Any, faces: int, time: Any) -> tuple[Part, ...]:
        """The faces of a mesh in runs of one material: its own binding, and that of its subsets over it."""
        from pxr import UsdGeom, UsdShade

        binding = UsdShade.MaterialBindingAPI(prim)
        names: list[Name | None] = [self._bound(binding)]
        of_face = np.zeros(faces, np.int64)
        for subset in binding.GetMaterialBindSubsets():
            indices = np.asarray(UsdGeom.Subset(subset).GetIndicesAttr().Get(time) or [], np.int64)
            of_face[indices[(indices >= 0) & (indices < faces)]] = len(names)
            names.append(self._bound(UsdShade.MaterialBindingAPI(subset.GetPrim())) or names[0])
        path = Name(str(prim.GetPath()).lstrip("/").encode())
        starts = [0, *(np.flatnonzero(np.diff(of_face)) + 1).tolist(), faces]
        return tuple(Part(start, stop, path, names[of_face[start]]) for start, stop in pairwise(starts) if stop > start)

    def _bound(self, binding: Any) -> Name | None:
        material = binding.ComputeBoundMaterial()[0]
        if not material:
            return None
        path = str(material.GetPath())
        if path not in self._known:
            self._known[path] = self._read(material)
        return self._known[path].name

    def _read(self, material: Any) -> Material:
        prim = material.GetPrim()
        name, taken = prim.GetDisplayName() or prim.GetName(), {str(one.name) for one in self._known.values()}
        while name in taken:
            name += f"_{len(taken) + 1}"
        surface = material.ComputeSurfaceSource()[0]
        if not surface:
            return Material(Name(name.encode()))
        texture = _texture_of(surface)
        # An image's colours are multiplied by `scale`, as MTL's are by Kd.
        colour = _value(texture, "scale") or (1, 1, 1) if texture else _value(surface, "diffuseColor") or _GREY
        opacity = _value(surface, "opacity")
        return Material(
            Name(name.encode()),
            (float(colour[0]), float(colour[1]), float(colour[2])),
            1.0 if opacity is None else float(opacity),
            None if texture is None else self._image(texture),
        )

    def _image(self, texture: Any) -> Image | None:
        asset = _value(texture, "file")
        if asset is None or not asset.path:
            return None
        data = self._content(asset.resolvedPath) if asset.resolvedPath else None
        whole = asset.path.encode("utf-8", "surrogateescape")
        return Image(Name(whole if data is None else whole.replace(b"\\", b"/").rsplit(b"/", 1)[-1]), data)

    def _content(self, resolved: str) -> bytes | None:
        """A texture's bytes, also from inside a .usdz; None outside the folder, or where it can't be read."""
        from pxr import Ar

        packed = Ar.IsPackageRelativePath(resolved)
        outer, inner = Ar.SplitPackageRelativePathOuter(resolved) if packed else (resolved, "")
        target = Path(os.path.realpath(outer))
        if not target.is_relative_to(self._folder):
            return None
        try:
            data = read_place(target)
            return _unpacked(data, inner) if packed else data
        except (OSError, zipfile.BadZipFile, KeyError, ValueError, NotImplementedError):
            return None


def _unpacked(package: bytes, name: str) -> bytes | None:
    """A file of a .usdz: its files are neither compressed nor encrypted (OpenUSD, "Usdz file format specification")."""
    with zipfile.ZipFile(io.BytesIO(package)) as files:
        return files.read(name) if files.getinfo(name).compress_type == zipfile.ZIP_STORED else None


def _texture_of(surface: Any) -> Any:
    """The shader that reads the image which the colour is connected to; None without one."""
    from pxr import UsdShade

    given = surface.GetInput("diffuseColor")
    if not given or not given.HasConnectedSource():
        return None
    source = UsdShade.Shader(given.GetConnectedSources()[0][0].source.GetPrim())
    return source if source and source.GetIdAttr().Get() == "UsdUVTexture" else None


def _value(shader: Any, name: str) -> Any:
    """The value of a shader's input, also where an input of the material above gives it; None where it has none."""
    given = shader.GetInput(name) if shader else None
    producers = given.GetValueProducingAttributes() if given else []
    return producers[0].Get() if producers else None
