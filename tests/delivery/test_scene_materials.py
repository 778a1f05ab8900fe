"""Tests of materials, colours and open sheets in GLB and OpenUSD, read with trimesh, Pillow and usd-core."""

from __future__ import annotations

import json
import struct
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import trimesh
from pxr import Usd, UsdGeom, UsdShade

from inspector.__main__ import main
from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.formats.animation import Take
from inspector.sequence.discovery.animations import open_animation
from inspector.sequence.run.scan import load_frame
from tests.helpers.images import image_file, normals, spots

SHEET = b"""mtllib kelp.mtl
v 0 0 0 1 0 0
v 1 0 0 0 1 0
v 1 1 0 0 0 1
v 0 1 0 1 1 1
v 2 0 0 0.5 0.5 0.5
v 2 1 0 0.25 0.5 0.75
vt 0 0
vt 1 0
vt 1 1
vt 0 1
vn 0 0 2
vn 0 0 0
usemtl kelp_blade
f 1/1/1 2/2/1 3/3/1 4/4/1
usemtl kelp blade
f 2//2 5//2 6//2 3//2
"""
LIBRARY = b"""newmtl kelp_blade
Kd 0.5 0.25 1
Ks 0.1 0.1 0.1
Pr 0.5
Pm 1
Ke 0 2 4
map_Kd skin.png
map_d cut.png
map_Pr rough.png
map_Pm -imfchan b metal.png
map_Ke glow.png
norm -bm 0.5 bumps.png
bump height.png
newmtl kelp blade
d 0.25
"""
CUT = np.linspace(0, 255, 20 * 64).reshape(20, 64).astype(np.uint8)
ROUGH = CUT[::-1].copy()
IMAGES = {
    "skin": spots(),
    "cut": CUT,
    "rough": ROUGH,
    "metal": spots(32, 10),
    "glow": 255 - spots(),
    "bumps": normals(),
    "height": CUT,
}


@pytest.fixture(scope="module")
def source(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("kelp")
    for number in (1, 2):
        (folder / f"kelp.{number:04d}.obj").write_bytes(SHEET.replace(b"v 2 0 0", b"v %d 0 0" % (number + 1)))
    (folder / "kelp.mtl").write_bytes(LIBRARY)
    for name, pixels in IMAGES.items():
        (folder / f"{name}.png").write_bytes(image_file(pixels))
    return folder


class Made:
    def __init__(self, source: Path, out: Path, capsys: pytest.CaptureFixture[str], *words: str) -> None:
        self.code = main(["fix", str(source), "--output", str(out), *words])
        self.said = capsys.readouterr().out
        self.out = out
        self.note = (out / "HANDOFF.txt").read_text()
        self.receipt: dict[str, Any] = json.loads((out / "meshqc-receipt.json").read_text())


def document(path: Path) -> dict[str, Any]:
    data = path.read_bytes()
    (length,) = struct.unpack_from("<I", data, 12)
    found: dict[str, Any] = json.loads(data[20 : 20 + length])
    return found


def test_a_glb_has_all_maps_as_trimesh_and_pillow_read_them(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = Made(source, tmp_path / "out", capsys, "--as", "glb")
    scene = trimesh.load(made.out / "kelp.0001.glb", process=False)
    by_name = {mesh.visual.material.name: mesh for mesh in scene.geometry.values()}
    assert set(by_name) == {"kelp_blade", "kelp blade"}, "names stay what they were"
    material = by_name["kelp_blade"].visual.material
    assert material.roughnessFactor == 0.5
    assert material.metallicFactor == 1
    # glTF 2.0, 3.9.2: roughness is green, metallic is blue, and opacity is the alpha of the colour.
    packed = np.asarray(material.metallicRoughnessTexture.convert("RGB"))
    np.testing.assert_array_equal(packed[..., 1], ROUGH)
    colour = np.asarray(material.baseColorTexture.convert("RGBA"))
    np.testing.assert_array_equal(colour[..., :3], spots())
    np.testing.assert_array_equal(colour[..., 3], CUT)
    assert packed.shape[:2] == (20, 64), "maps of two sizes are combined in the larger"
    np.testing.assert_array_equal(np.asarray(material.normalTexture.convert("RGB")), normals())
    np.testing.assert_array_equal(np.asarray(material.emissiveTexture.convert("RGB")), 255 - spots())
    np.testing.assert_allclose(material.emissiveFactor, (0, 0.5, 1))
    assert material.alphaMode == "BLEND"
    whole = document(made.out / "kelp.0001.glb")
    (first,) = (one for one in whole["materials"] if one["name"] == "kelp_blade")
    assert first["extensions"] == {"KHR_materials_emissive_strength": {"emissiveStrength": 4.0}}
    assert first["normalTexture"]["scale"] == 0.5


def test_a_glb_has_colours_open_sheets_and_partial_uvs(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = Made(source, tmp_path / "out", capsys, "--as", "glb")
    whole = document(made.out / "kelp.0001.glb")
    assert all(one["doubleSided"] for one in whole["materials"])
    attributes = [set(one["attributes"]) for one in whole["meshes"][0]["primitives"]]
    assert attributes == [{"POSITION", "COLOR_0", "TEXCOORD_0", "NORMAL"}, {"POSITION", "COLOR_0"}]
    again, before = load_frame(made.out / "kelp.0001.glb"), load_frame(source / "kelp.0001.obj")
    ours = {tuple(point): tuple(colour) for point, colour in zip(before.positions, before.colours, strict=True)}
    for point, colour in zip(again.positions, again.colours, strict=True):
        np.testing.assert_allclose(colour, ours[tuple(point)], atol=1e-7)
    np.testing.assert_allclose(np.linalg.norm(again.normals, axis=1), 1)


def test_what_is_lost_is_said_before_writing_in_the_note_and_in_the_receipt(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = Made(source, tmp_path / "out", capsys, "--as", "glb")
    words = "material kelp_blade: ks, bump"
    assert f"warning: {words}" in made.said
    assert f"  warning: {words}" in made.note
    assert {"sequence": "kelp.####.obj", "what": words, "seen": True} in made.receipt["left_out"]
    assert "--share-textures" in made.said


TILED = b"newmtl blade\nKd 1 1 1\nmap_Kd skin.<udim>.png\nmap_Ke gone.png\nmap_d -s 2 2 skin.png\n"


@pytest.mark.parametrize("form", ["glb", "usd"])
def test_tiles_missing_files_and_options_are_kept_or_named(
    form: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # UsdPreviewSurface specification, "UDIM": `<UDIM>` in an asset path represents the tiles. glTF has no equivalent.
    folder = tmp_path / "kelp"
    folder.mkdir()
    (folder / "kelp.0001.obj").write_bytes(SHEET.replace(b"kelp_blade", b"blade"))
    (folder / "kelp.mtl").write_bytes(TILED)
    for name in ("skin.1001.png", "skin.1002.png", "skin.png"):
        (folder / name).write_bytes(image_file(spots()))
    made = Made(folder, tmp_path / "out", capsys, "--as", form)
    said = {one["what"]: one["seen"] for one in made.receipt["left_out"]}
    assert said["material blade: map_Ke (file not found), map_d -s 2 2"]
    assert ("material blade: all UV tiles of map_Kd except 1001" in said) == (form == "glb")
    if form == "usd":
        stage = Usd.Stage.Open(str(made.out / "kelp.usdc"))
        files = {UsdShade.Shader(prim).GetInput("file").Get() for prim in stage.Traverse() if prim.IsA(UsdShade.Shader)}
        assert "skin.<UDIM>.png" in {file.path for file in files if file is not None}
        assert {"skin.1001.png", "skin.1002.png"} <= {path.name for path in made.out.iterdir()}


def test_objects_of_a_glb_are_nodes_and_a_cloud_is_points(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    # trimesh reads the file.
    folder = tmp_path / "kelp"
    folder.mkdir()
    parts = b"v 0 0 0\nv 1 0 0\nv 1 1 0\nv 5 5 5\nv 6 5 5\nv 6 6 5\no left\nf 1 2 3\no right\nf 4 5 6\n"
    (folder / "kelp.0001.obj").write_bytes(parts)
    points = [line for line in parts.splitlines() if line.startswith(b"v ")]
    (folder / "kelp.0002.obj").write_bytes(b"".join(line + b" 1 0 0\n" for line in points))
    made = Made(folder, tmp_path / "out", capsys, "--as", "glb")
    scene = trimesh.load(made.out / "kelp.0001.glb", process=False)
    boxes = {name: scene.geometry[scene.graph[name][1]].bounds.tolist() for name in scene.graph.nodes_geometry}
    assert boxes == {"left": [[0, 0, 0], [1, 1, 0]], "right": [[5, 5, 5], [6, 6, 5]]}
    (cloud,) = trimesh.load(made.out / "kelp.0002.glb", process=False).geometry.values()
    assert cloud.vertices.tolist() == [list(map(float, line.split()[1:])) for line in points]
    assert cloud.colors[:, :3].tolist() == [[255, 0, 0]] * 6


def test_shared_textures_are_files_beside_the_frames(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = Made(source, tmp_path / "out", capsys, "--as", "glb", "--share-textures")
    assert "--share-textures writes each texture once" not in made.said
    names = {"bumps.png", "glow.png", "rough_roughness_metallic.png", "skin_opacity.png"}
    assert {path.name for path in (made.out / "textures").iterdir()} == names
    uris = [image["uri"] for image in document(made.out / "kelp.0002.glb")["images"]]
    assert sorted(uris) == sorted(f"textures/{name}" for name in names)
    assert max(path.stat().st_size for path in made.out.glob("*.glb")) < 6000
    assert main(["verify", str(made.out)]) in (0, 1)
    assert "changed" not in capsys.readouterr().out


@pytest.mark.parametrize(("form", "files"), [("glb", 2), ("usd", 1)])
def test_a_material_that_a_frame_does_not_use_is_not_another_version(
    form: str, files: int, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The library of the second frame defines `kelp_blade` and `wet`, but the second frame uses only `wet`."""
    folder = tmp_path / "in"
    folder.mkdir()
    skin = "newmtl kelp_blade\nmap_Kd skin.png\n"
    (folder / "kelp.mtl").write_text(skin)
    (folder / "wet.mtl").write_text(skin + "newmtl wet\nKd 0 0 1\n")
    (folder / "skin.png").write_bytes(image_file(IMAGES["skin"]))
    text = b"mtllib %s\nv 0 0 0\nv 1 0 0\nv 1 1 %d\nvt 0 0\nvt 1 0\nvt 1 1\nusemtl %s\nf 1/1 2/2 3/3\n"
    (folder / "kelp.0001.obj").write_bytes(text % (b"kelp.mtl", 0, b"kelp_blade"))
    (folder / "kelp.0002.obj").write_bytes(text % (b"wet.mtl", 1, b"wet"))
    made = Made(folder, tmp_path / "out", capsys, "--as", form)
    assert len(list(made.out.glob(f"kelp*.{form}*"))) == files
    assert main(["verify", str(made.out)]) in (0, 1)
    assert "changed" not in capsys.readouterr().out


def frames_with_textures_of_their_own(folder: Path) -> dict[int, bytes]:
    """Write three frames whose materials differ in colour and texture. Return the texture of each frame."""
    folder.mkdir()
    text = (
        "mtllib kelp.%04d.mtl\nv 0 0 0\nv 1 0 0\nv 1 1 %d\nvt 0 0\nvt 1 0\nvt 1 1\nusemtl kelp_blade\nf 1/1 2/2 3/3\n"
    )
    skins = {number: image_file(np.roll(IMAGES["skin"], number, axis=0)) for number in (1, 2, 3)}
    for number, skin in skins.items():
        (folder / f"kelp.{number:04d}.obj").write_text(text % (number, number))
        body = f"newmtl kelp_blade\nKd 0.{number} 1 1\nmap_Kd skin.{number:04d}.png\n"
        (folder / f"kelp.{number:04d}.mtl").write_text(body)
        (folder / f"skin.{number:04d}.png").write_bytes(skin)
    return skins


@pytest.mark.parametrize("shared", [False, True])
def test_each_glb_has_the_material_of_its_own_frame(
    shared: bool, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    skins = frames_with_textures_of_their_own(tmp_path / "in")
    words = ("--without", "share-library", "--as", "glb", *(["--share-textures"] if shared else []))
    made = Made(tmp_path / "in", tmp_path / "out", capsys, *words)
    for number, skin in skins.items():
        path = made.out / f"kelp.{number:04d}.glb"
        (material,) = document(path)["materials"]
        assert material["pbrMetallicRoughness"]["baseColorFactor"][0] == pytest.approx(number / 10)
        (image,) = document(path)["images"]
        if shared:
            assert (made.out / image["uri"]).read_bytes() == skin
        else:
            colour = trimesh.load(path, process=False).geometry.popitem()[1].visual.material.baseColorTexture
            np.testing.assert_array_equal(np.asarray(colour)[..., :3], np.roll(IMAGES["skin"], number, axis=0))
    assert main(["verify", str(made.out)]) in (0, 1)
    assert "changed" not in capsys.readouterr().out


def test_a_scene_file_has_one_version_of_each_material(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    frames_with_textures_of_their_own(tmp_path / "in")
    words = ("--without", "share-library", "--as", "usd", "--output", str(tmp_path / "out"))
    assert main(["fix", str(tmp_path / "in"), *words]) == 2
    assert (
        "the material kelp_blade changes between frames, but a scene file can't store such a change"
        in capsys.readouterr().err
    )


def test_two_definitions_of_one_material_in_one_frame_are_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    frames_with_textures_of_their_own(tmp_path / "in")
    frame = tmp_path / "in" / "kelp.0002.obj"
    frame.write_text(frame.read_text().replace("mtllib kelp.0002.mtl", "mtllib kelp.0001.mtl kelp.0002.mtl"))
    words = ("--without", "share-library", "--as", "glb", "--output", str(tmp_path / "out"))
    assert main(["fix", str(tmp_path / "in"), *words]) == 2
    said = capsys.readouterr().err
    assert "kelp.0002.obj: its libraries define the material kelp_blade in different ways" in said


def test_sequences_share_equal_textures_and_keep_different_textures_of_one_name_apart(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    skins = {"kelp": image_file(IMAGES["skin"]), "jelly": image_file(IMAGES["glow"])}
    bumps = image_file(IMAGES["bumps"])
    folder = tmp_path / "in"
    for name, skin in skins.items():
        (folder / name).mkdir(parents=True)
        (folder / name / "skin.png").write_bytes(skin)
        for number in (1, 2):
            (folder / f"{name}.{number:04d}.obj").write_bytes(SHEET.replace(b"kelp.mtl", name.encode() + b".mtl"))
        maps = f"newmtl kelp_blade\nmap_Kd {name}/skin.png\nnorm textures/bumps.png\nnewmtl kelp blade\nKd 1 1 1\n"
        (folder / f"{name}.mtl").write_text(maps)
    (folder / "textures").mkdir()
    (folder / "textures/bumps.png").write_bytes(bumps)

    made = Made(folder, tmp_path / "out", capsys, "--as", "glb", "--share-textures")
    assert sorted(path.name for path in (made.out / "textures").iterdir()) == ["bumps.png", "skin.png", "skin2.png"]
    for name, skin in skins.items():
        uris = {image["uri"] for image in document(made.out / f"{name}.0002.glb")["images"]}
        assert {(made.out / uri).read_bytes() for uri in uris} == {skin, bumps}
    assert main(["verify", str(made.out)]) in (0, 1)
    assert "changed" not in capsys.readouterr().out


def test_usd_core_reads_all_maps_colours_and_the_faces_without_uvs(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = Made(source, tmp_path / "out", capsys, "--as", "usd", "--unit", "m")
    stage = Usd.Stage.Open(str(made.out / "kelp.usdc"))
    (mesh,) = (UsdGeom.Mesh(prim) for prim in stage.Traverse() if prim.IsA(UsdGeom.Mesh))
    assert mesh.GetDoubleSidedAttr().Get()
    before = load_frame(source / "kelp.0002.obj")
    np.testing.assert_allclose(mesh.GetDisplayColorAttr().Get(2), before.colours, atol=1e-7)
    primvar = UsdGeom.PrimvarsAPI(mesh).GetPrimvar("st")
    assert primvar.GetUnauthoredValuesIndex() == 0
    assert list(primvar.GetIndices(2)) == [1, 2, 3, 4, 0, 0, 0, 0]
    np.testing.assert_allclose(np.asarray(primvar.Get(2))[1:], before.uvs)
    normals_ = np.asarray(UsdGeom.PrimvarsAPI(mesh).GetPrimvar("normals").ComputeFlattened(2))
    np.testing.assert_allclose(normals_, [(0, 0, 1)] * 8)
    subsets = UsdShade.MaterialBindingAPI(mesh).GetMaterialBindSubsets()
    assert [one.GetPrim().GetName() for one in subsets] == ["kelp_blade", "kelp_blade_2"]
    material = UsdShade.MaterialBindingAPI(subsets[0].GetPrim()).ComputeBoundMaterial()[0]
    surface = material.ComputeSurfaceSource()[0]
    found = {}
    for name in ("diffuseColor", "opacity", "roughness", "metallic", "normal", "emissiveColor"):
        (output,) = surface.GetInput(name).GetValueProducingAttributes()
        file = UsdShade.Shader(output.GetPrim()).GetInput("file").Get()
        found[name] = (Path(file.resolvedPath).name, output.GetBaseName())
    assert found == {
        "diffuseColor": ("skin.png", "rgb"),
        "opacity": ("cut.png", "r"),
        "roughness": ("rough.png", "r"),
        "metallic": ("metal.png", "b"),
        "normal": ("bumps.png", "rgb"),
        "emissiveColor": ("glow.png", "rgb"),
    }


def test_from_obj_to_usd_and_back_a_material_is_what_it_was(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Made(source, tmp_path / "out", capsys, "--as", "usd", "--unit", "m")
    path = tmp_path / "out" / "kelp.usdc"
    animation = open_animation(path)
    unpack(path, animation, UnpackRequest((Fraction(1),), Take()), tmp_path / "back")
    lines = (tmp_path / "back" / "kelp.mtl").read_text().splitlines()
    assert lines[:2] == ["newmtl kelp_blade", "Kd 0.5 0.25 1"]
    for line in ("Pr 0.5", "Ke 0 2 4", "map_Kd textures/kelp_skin.png", "norm -bm 0.5 textures/kelp_bumps.png"):
        assert line in lines
    after, before = load_frame(next((tmp_path / "back").glob("*.obj"))), load_frame(source / "kelp.0001.obj")
    np.testing.assert_allclose(after.colours, before.colours, atol=1e-7)
    np.testing.assert_array_equal(after.corners.vt, before.corners.vt)
    assert [str(name) for name in after.materials] == ["kelp_blade", "kelp blade"]


def test_textures_inside_a_glb_are_inspected_like_others(
    source: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    made = Made(source, tmp_path / "out", capsys, "--as", "glb")
    for path in made.out.glob("*.glb"):
        data = bytearray(path.read_bytes())
        at = data.find(b"IDAT") + 30
        data[at : at + 40] = bytes(40)
        path.write_bytes(data)
    main(["check", str(made.out), "--json"])
    report = json.loads(capsys.readouterr().out)
    (sequence,) = report["sequences"]
    damaged = [one for one in sequence["findings"] if one["check"] == "texture-damaged"]
    assert len(damaged) == 1, sequence["findings"]
    assert ".glb/" in damaged[0]["message"]
