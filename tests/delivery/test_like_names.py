"""Tests of converting textures and materials that have similar names. Images are read with Pillow."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PIL import Image
from pxr import Sdf, Usd, UsdGeom, UsdShade

from inspector.__main__ import main
from tests.helpers.fuzz.obj_words import words_of
from tests.helpers.gltf import FLOAT, Document
from tests.helpers.images import image_file

RED, GREEN, BLUE = (200, 0, 0), (0, 180, 0), (0, 0, 160)
Colour = tuple[int, int, int]


def plain(colour: Colour) -> bytes:
    return image_file(np.full((2, 2, 3), colour, np.uint8))


def shown(folder: Path, frame: str) -> list[Colour]:
    images: dict[str, Colour] = {}
    material = ""
    (library,) = folder.glob("*.mtl")
    for line in library.read_text().splitlines():
        keyword, _, rest = line.partition(" ")
        if keyword == "newmtl":
            material = rest.strip()
            assert material not in images, "two materials of one name"
        elif keyword == "map_Kd":
            pixel = Image.open(io.BytesIO((folder / rest).read_bytes())).convert("RGB").getpixel((0, 0))
            images[material] = pixel  # type: ignore[assignment]
    return [images[face.state[2]] for face in words_of((folder / frame).read_bytes()).faces]


def glb(faces: Sequence[tuple[str, str, Colour]], order: Sequence[int]) -> bytes:
    """Return a GLB with a triangle for each material.

    For each material, `faces` contains its name, the name of its image, and the colour of the image. `order` contains
    indices into `faces`, in the order of the materials in the file.
    """
    document, primitives = Document(), []
    for number in range(len(faces)):
        points = np.array([(number, 0, 0), (number + 1, 0, 0), (number, 1, 0)], np.float32)
        uvs = np.array([(0, 0), (1, 0), (0, 1)], np.float32)
        attributes = {"POSITION": document.array(points, FLOAT, "VEC3")}
        attributes["TEXCOORD_0"] = document.array(uvs, FLOAT, "VEC2")
        primitives.append({"attributes": attributes, "material": order.index(number)})
    images = []
    for number in order:
        document.views.append(document.bytes(plain(faces[number][2])))
        view = len(document.views) - 1
        images.append({"bufferView": view, "mimeType": "image/png", "name": faces[number][1]})
    more: dict[str, Any] = {
        "images": images,
        "textures": [{"source": at} for at in range(len(order))],
        "materials": [
            {"name": faces[number][0], "pbrMetallicRoughness": {"baseColorTexture": {"index": at}}}
            for at, number in enumerate(order)
        ],
    }
    scene = {"meshes": [{"primitives": primitives}], "nodes": [{"mesh": 0}], "scenes": [{"nodes": [0]}]}
    return document.glb({**scene, **more})


LIKE = {
    "two images of one name": [("skin", "diffuse", RED), ("fins", "diffuse", GREEN)],
    "in another case": [("skin", "Diffuse", RED), ("fins", "diffuse", GREEN)],
    "a name that ends with a blank": [("skin", "one", RED), ("skin ", "two", GREEN)],
    "the number that is given to the second": [("a", "x_2", RED), ("b", "x", GREEN), ("c", "x", BLUE)],
    "materials of one name": [("skin", "diffuse", RED), ("skin", "diffuse", GREEN), ("skin_2", "diffuse", BLUE)],
}


@pytest.mark.parametrize("case", LIKE)
@pytest.mark.parametrize("turned", [False, True], ids=["one order", "another order in frame 2"])
def test_glb_frames_as_obj(case: str, turned: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    faces, source, out = LIKE[case], tmp_path / "in", tmp_path / "out"
    source.mkdir()
    order = list(range(len(faces)))
    (source / "manta.0001.glb").write_bytes(glb(faces, order))
    (source / "manta.0002.glb").write_bytes(glb(faces, order[::-1] if turned else order))
    code = main(["fix", str(source), "--output", str(out), "--as", "obj"])
    said = capsys.readouterr()
    if turned and code == 2:
        assert "The frames can't share one library" in said.err
        assert not out.exists()
        return
    assert code in (0, 1), said.err
    for frame in ("manta.0001.obj", "manta.0002.obj"):
        assert shown(out, frame) == [colour for *_, colour in faces]


def test_an_image_that_changes_over_the_frames_is_refused(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    source, out = tmp_path / "in", tmp_path / "out"
    source.mkdir()
    for number, colour in ((1, RED), (2, BLUE)):
        (source / f"manta.{number:04d}.glb").write_bytes(glb([("skin", "diffuse", colour)], [0]))
    assert main(["fix", str(source), "--output", str(out), "--as", "obj"]) == 2
    assert "the texture textures/manta_diffuse.png differs between frames" in capsys.readouterr().err
    assert not out.exists()


def test_unpacked_textures_of_one_name(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for folder, colour in (("skin", RED), ("fins", GREEN)):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "diffuse.png").write_bytes(plain(colour))
    stage = Usd.Stage.CreateNew(str(tmp_path / "manta.usda"))
    stage.SetStartTimeCode(1)
    stage.SetEndTimeCode(2)
    mesh = UsdGeom.Mesh.Define(stage, "/manta")
    for number in (1, 2):
        mesh.CreatePointsAttr().Set([(0, 0, number), (1, 0, number), (1, 1, number), (0, 1, number)], number)
    mesh.CreateFaceVertexCountsAttr([3, 3])
    mesh.CreateFaceVertexIndicesAttr([0, 1, 2, 0, 2, 3])
    UsdGeom.PrimvarsAPI(mesh).CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "vertex").Set(
        [(0, 0), (1, 0), (1, 1), (0, 1)]
    )
    for at, (name, file) in enumerate((("skin", "./skin/diffuse.png"), ("skin ", "./fins/diffuse.png"))):
        material = _material(stage, f"/looks/m{at}", file)
        material.GetPrim().SetDisplayName(name)
        subset = UsdShade.MaterialBindingAPI(mesh).CreateMaterialBindSubset(f"part{at}", [at])
        UsdShade.MaterialBindingAPI.Apply(subset.GetPrim()).Bind(material)
    stage.Save()
    assert main(["unpack", str(tmp_path / "manta.usda"), str(tmp_path / "out"), "--from-unit", "m"]) in (0, 1)
    for frame in ("manta.0001.obj", "manta.0002.obj"):
        assert shown(tmp_path / "out", frame) == [RED, GREEN], capsys.readouterr().err


def _material(stage: Usd.Stage, path: str, image: str) -> UsdShade.Material:
    """Add a material with this image. Source: OpenUSD, "UsdPreviewSurface specification" (UsdUVTexture)."""
    material = UsdShade.Material.Define(stage, path)
    surface = UsdShade.Shader.Define(stage, f"{path}/surface")
    surface.CreateIdAttr("UsdPreviewSurface")
    material.CreateSurfaceOutput().ConnectToSource(surface.ConnectableAPI(), "surface")
    texture = UsdShade.Shader.Define(stage, f"{path}/image")
    texture.CreateIdAttr("UsdUVTexture")
    texture.CreateInput("file", Sdf.ValueTypeNames.Asset).Set(image)
    surface.CreateInput("diffuseColor", Sdf.ValueTypeNames.Color3f).ConnectToSource(texture.ConnectableAPI(), "rgb")
    return material
