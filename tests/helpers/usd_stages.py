"""OpenUSD stages, made with usd-core: two squares side by side, and materials."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pxr import Gf, Sdf, Usd, UsdGeom, UsdShade

POINTS = [(0, 0, 0), (1, 0, 0), (1, 2, 0), (0, 2, 0), (2, 0, 0), (2, 2, 0)]
SIZES, V = [4, 4], [0, 1, 2, 3, 1, 4, 5, 2]


def stage_at(path: Path) -> Usd.Stage:
    return Usd.Stage.CreateNew(str(path))


def add_mesh(stage: Usd.Stage, path: str = "/kelp") -> UsdGeom.Mesh:
    mesh = UsdGeom.Mesh.Define(stage, path)
    mesh.CreatePointsAttr(POINTS)
    mesh.CreateFaceVertexCountsAttr(SIZES)
    mesh.CreateFaceVertexIndicesAttr(V)
    mesh.CreateSubdivisionSchemeAttr("none")
    return mesh


def bind(stage: Usd.Stage, path: str, colour: Sequence[float], image: str | None = None) -> UsdShade.Material:
    material = UsdShade.Material.Define(stage, path)
    surface = UsdShade.Shader.Define(stage, f"{path}/surface")
    surface.CreateIdAttr("UsdPreviewSurface")
    given = surface.CreateInput("diffuseColor", Sdf.ValueTypeNames.Color3f)
    given.Set(Gf.Vec3f(*colour))
    material.CreateSurfaceOutput().ConnectToSource(surface.ConnectableAPI(), "surface")
    if image is not None:
        texture = UsdShade.Shader.Define(stage, f"{path}/image")
        texture.CreateIdAttr("UsdUVTexture")
        texture.CreateInput("file", Sdf.ValueTypeNames.Asset).Set(image)
        given.ConnectToSource(texture.ConnectableAPI(), "rgb")
    return material
