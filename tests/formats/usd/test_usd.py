"""Tests of OpenUSD stages. Sources: usd-core's own values and the API documentation of OpenUSD."""

from __future__ import annotations

import contextlib
import subprocess
import sys
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pxr import Gf, Sdf, Usd, UsdGeom, UsdShade

from inspector.errors import MeshqcError
from inspector.formats.animation import Animation, Take
from inspector.formats.frame import ABSENT
from inspector.formats.problems import UnreadableFrame
from inspector.sequence.discovery.animations import describe, open_animation
from tests.helpers.images import image_file, spots
from tests.helpers.usd_stages import POINTS, V, add_mesh, bind, stage_at


def opened(tmp_path: Path, fill: Callable[[Usd.Stage], Any], name: str = "kelp.usda") -> Animation:
    stage = stage_at(tmp_path / name)
    fill(stage)
    stage.Save()
    return open_animation(tmp_path / name)


def test_units_and_axis_fall_back_to_centimetres_and_y(tmp_path: Path) -> None:
    # UsdGeomGetStageMetersPerUnit: 0.01 without metadata; UsdGeomGetFallbackUpAxis: Y.
    animation = opened(tmp_path, add_mesh)
    assert (animation.metres, animation.up) == (0.01, "y")
    assert UsdGeom.LinearUnits.centimeters == 0.01
    assert animation.frames == (Fraction(1),)
    assert animation.notes == ()


def test_what_the_stage_states_is_taken(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage)
        UsdGeom.SetStageMetersPerUnit(stage, 1.0)
        UsdGeom.SetStageUpAxis(stage, "Z")
        stage.SetStartTimeCode(1001)
        stage.SetEndTimeCode(1004)
        stage.SetTimeCodesPerSecond(25)

    animation = opened(tmp_path, fill)
    assert (animation.metres, animation.up, animation.rate) == (1.0, "z", 25)
    assert animation.frames == (1001, 1002, 1003, 1004)
    # A quarter turn about x converts z up to y up: (x, y, z) -> (x, z, -y).
    mesh = animation.mesh(Fraction(1001), Take(scale=2.0, z_up=True))
    np.testing.assert_array_equal(mesh.positions, [(2 * x, 2 * z, -2 * y) for x, y, z in POINTS])
    np.testing.assert_array_equal(animation.mesh(Fraction(1001), Take()).positions, POINTS)


def test_samples_and_transforms_are_baked_frame_by_frame(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        parent = UsdGeom.Xform.Define(stage, "/reef")
        move = parent.AddTranslateOp()
        move.Set((0, 0, 0), 1)
        move.Set((8, 0, 0), 5)
        parent.AddRotateZOp().Set(90)
        mesh = add_mesh(stage, "/reef/kelp")
        mesh.GetPointsAttr().Set([(x, y, 1) for x, y, _ in POINTS], 1)
        mesh.GetPointsAttr().Set([(x, y, 5) for x, y, _ in POINTS], 5)

    animation = opened(tmp_path, fill)
    assert animation.frames == (1, 2, 3, 4, 5)
    stage = Usd.Stage.Open(str(tmp_path / "kelp.usda"))
    for number in (1, 2, 5):
        prim = stage.GetPrimAtPath("/reef/kelp")
        world = UsdGeom.XformCache(number).GetLocalToWorldTransform(prim)
        theirs = [world.Transform(Gf.Vec3d(*point)) for point in UsdGeom.Mesh(prim).GetPointsAttr().Get(number)]
        np.testing.assert_allclose(animation.mesh(Fraction(number), Take()).positions, np.array(theirs), atol=1e-9)


@pytest.mark.parametrize("indexed", [False, True])
@pytest.mark.parametrize(
    ("interpolation", "places"),
    [
        ("constant", [0] * 8),
        ("uniform", [0] * 4 + [1] * 4),
        ("vertex", V),
        ("varying", V),
        ("faceVarying", list(range(8))),
    ],
)
def test_uvs_by_every_interpolation(tmp_path: Path, interpolation: str, places: list[int], indexed: bool) -> None:
    # UsdGeomPrimvar, "Interpolation of geometric primvars", and "Indexed primvars".
    values = [(place / 8, 1 - place / 16) for place in range(max(places) + 1)]

    def fill(stage: Usd.Stage) -> None:
        primvars = UsdGeom.PrimvarsAPI(add_mesh(stage))
        primvar = primvars.CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, interpolation)
        primvar.Set(values[::-1] if indexed else values)
        if indexed:
            primvar.SetIndices(list(range(len(values)))[::-1])

    mesh = opened(tmp_path, fill).mesh(Fraction(1), Take())
    np.testing.assert_array_equal(mesh.uvs[mesh.corners.vt], [values[place] for place in places])


def test_uvs_that_are_not_indexed_are_told_apart_by_value(tmp_path: Path) -> None:
    seen = [(0, 0), (1, 0), (1, 1), (0, 1), (1, 0), (0.5, 0), (0.5, 1), (1, 1)]

    def fill(stage: Usd.Stage) -> None:
        primvars = UsdGeom.PrimvarsAPI(add_mesh(stage))
        primvars.CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "faceVarying").Set(seen)

    mesh = opened(tmp_path, fill).mesh(Fraction(1), Take())
    assert mesh.corners.vt.tolist() == [0, 1, 2, 3, 1, 4, 5, 2]
    assert len(mesh.uvs) == 6


def test_left_handed_faces_are_turned_round_with_their_uvs(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        mesh = add_mesh(stage)
        mesh.CreateOrientationAttr("leftHanded")
        primvars = UsdGeom.PrimvarsAPI(mesh)
        primvars.CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "vertex").Set([(x, y) for x, y, _ in POINTS])

    mesh = opened(tmp_path, fill).mesh(Fraction(1), Take())
    assert mesh.corners.v.tolist() == [0, 3, 2, 1, 1, 2, 5, 4]
    np.testing.assert_array_equal(mesh.uvs[mesh.corners.vt], np.array(POINTS)[mesh.corners.v, :2])


def test_subsets_and_bindings_become_materials_of_faces(tmp_path: Path) -> None:
    (tmp_path / "maps").mkdir()
    (tmp_path / "maps" / "wet.png").write_bytes(image_file(spots()))

    def fill(stage: Usd.Stage) -> None:
        mesh = add_mesh(stage)
        UsdShade.MaterialBindingAPI.Apply(mesh.GetPrim()).Bind(bind(stage, "/dry/skin", (0.5, 0.25, 0.125)))
        subset = UsdShade.MaterialBindingAPI(mesh).CreateMaterialBindSubset("tip", [1])
        wet = bind(stage, "/wet/skin", (0, 0, 0), "./maps/wet.png")
        UsdShade.MaterialBindingAPI.Apply(subset.GetPrim()).Bind(wet)

    mesh = opened(tmp_path, fill).mesh(Fraction(1), Take())
    dry, wet = mesh.materials
    assert (str(dry.name), dry.colour) == ("skin", (0.5, 0.25, 0.125))
    assert str(wet.name) == "skin_2", "names that repeat are made distinct"
    (colour,) = wet.maps
    assert colour.image.data == image_file(spots())
    assert wet.colour == (1, 1, 1), "a connected colour has no value of its own"
    assert [(part.start, part.stop, part.material) for part in mesh.parts] == [(0, 1, dry.name), (1, 2, wet.name)]


def test_meshes_by_path_and_what_is_not_taken(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage, "/reef/kelp")
        add_mesh(stage, "/reef/kelp_far")
        UsdGeom.Imageable(add_mesh(stage, "/reef/guide")).CreatePurposeAttr("guide")
        UsdGeom.Imageable(add_mesh(stage, "/reef/hidden")).MakeInvisible()
        add_mesh(stage, "/reef/soft").CreateSubdivisionSchemeAttr("catmullClark")
        UsdGeom.Sphere.Define(stage, "/reef/bubble")

    animation = opened(tmp_path, fill)
    assert [one.path for one in animation.meshes] == ["/reef/kelp", "/reef/kelp_far", "/reef/hidden", "/reef/soft"]
    assert [note for note in animation.notes if "Sphere" in note.what and note.seen]
    assert [note for note in animation.notes if "subdivision (1 of 4 meshes)" in note.what]
    whole = animation.mesh(Fraction(1), Take())
    assert [str(part.object) for part in whole.parts] == ["reef/kelp", "reef/kelp_far", "reef/soft"]
    one = animation.mesh(Fraction(1), Take(("/reef/kelp",)))
    assert [str(part.object) for part in one.parts] == ["reef/kelp"], "a path is no beginning of a name"
    with pytest.raises(UnreadableFrame):
        animation.mesh(Fraction(1), Take(("/reef/hidden",)))


def test_indices_out_of_range_are_left_for_the_checks(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        mesh = add_mesh(stage)
        mesh.GetFaceVertexIndicesAttr().Set([0, 1, 2, -7, 1, 4, 5, 99])
        primvar = UsdGeom.PrimvarsAPI(mesh).CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "faceVarying")
        primvar.Set([(0, 0)] * 3)

    mesh = opened(tmp_path, fill).mesh(Fraction(1), Take())
    assert mesh.corners.v.tolist() == [0, 1, 2, 6, 1, 4, 5, 6]
    assert (mesh.corners.vt[3:] >= len(mesh.uvs)).all()
    assert (mesh.corners.vn == ABSENT).all()


def test_nothing_outside_the_files_folder_is_opened(tmp_path: Path) -> None:
    inside, outside = tmp_path / "shot", tmp_path / "elsewhere.usda"
    inside.mkdir()
    stage = stage_at(outside)
    add_mesh(stage)
    stage.SetDefaultPrim(stage.GetPrimAtPath("/kelp"))
    stage.Save()
    (inside / "link.usda").symlink_to(outside)
    for number, asset in enumerate(("../elsewhere.usda", str(outside), "./link.usda", "./missing.usda")):
        for way in ("reference", "payload", "sublayer"):
            layer = stage_at(inside / f"a{number}{way}.usda")
            prim = layer.DefinePrim("/here")
            match way:
                case "reference":
                    prim.GetReferences().AddReference(asset)
                case "payload":
                    prim.GetPayloads().AddPayload(asset)
                case _:
                    layer.GetRootLayer().subLayerPaths.append(asset)
            layer.Save()
            with pytest.raises(MeshqcError, match="another file, which was not read"):
                open_animation(inside / f"a{number}{way}.usda")


AWAY = "@../elsewhere.usda@"


@pytest.mark.parametrize(
    ("sublayers", "arcs"),
    [
        (f"{AWAY}, {AWAY}", ""),
        (AWAY, f"references = {AWAY}</kelp>"),
        (AWAY, f"references = {AWAY}</kelp>\npayload = {AWAY}</kelp>"),
    ],
)
def test_a_layer_outside_that_is_named_in_several_places_is_not_opened(
    sublayers: str, arcs: str, tmp_path: Path
) -> None:
    """If the layer were used, the whole file would be refused."""
    add_mesh(away := stage_at(tmp_path / "elsewhere.usda"))
    away.Save()
    (tmp_path / "shot").mkdir()
    path = tmp_path / "shot" / "fin.usda"
    add_mesh(stage := stage_at(path), "/fin")
    stage.Save()
    head = f'#usda 1.0\n(\nsubLayers = [{sublayers}]\n)\ndef "here" (\n{arcs}\n) {{}}\n'
    path.write_text(path.read_text().replace("#usda 1.0\n", head))
    animation = open_animation(path)
    assert [one.path for one in animation.meshes] == ["/fin"]
    assert any("elsewhere.usda is outside the folder" in note.what for note in animation.notes)


def test_references_inside_the_folder_are_followed(tmp_path: Path) -> None:
    part = stage_at(tmp_path / "part.usda")
    add_mesh(part)
    part.SetDefaultPrim(part.GetPrimAtPath("/kelp"))
    part.Save()
    animation = opened(
        tmp_path, lambda stage: stage.DefinePrim("/here").GetReferences().AddReference("./part.usda"), "whole.usda"
    )
    assert [one.path for one in animation.meshes] == ["/here"]


@pytest.mark.parametrize("content", [b"", b"#usda 1.0\nnonsense(", b"PXR-USDC" + bytes(200), b"PK\x03\x04" + bytes(9)])
def test_a_damaged_file_says_so_in_a_line(tmp_path: Path, content: bytes) -> None:
    endings = {b"": ".usda", b"#": ".usda", b"PX": ".usdc", b"PK": ".usdz"}
    ending = next(value for head, value in reversed(endings.items()) if content.startswith(head))
    path = tmp_path / f"jelly{ending}"
    path.write_bytes(content)
    assert describe(path).startswith("a whole animation: the file ")
    with pytest.raises(MeshqcError):
        open_animation(path)


def test_without_the_library_it_says_what_to_install(tmp_path: Path) -> None:
    program = (
        "import sys; sys.modules['pxr'] = None; from pathlib import Path; "
        "from inspector.sequence.discovery.animations import open_animation; open_animation(Path('kelp.usda'))"
    )
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=False, timeout=120)
    assert run.stderr.splitlines()[-1].endswith(
        "OpenUSD needs the extra `usd`: in the clone of meshqc, run pip install '.[usd]'"
    )


def test_a_range_without_bounds_is_refused(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage)
        stage.SetStartTimeCode(1)
        stage.SetEndTimeCode(1e12)

    with pytest.raises(MeshqcError, match="range of 1,000,000,000,000 frames"):
        opened(tmp_path, fill)


def test_instances_in_instances_are_counted_and_refused(tmp_path: Path) -> None:
    below = "\n".join(
        f'    def "i{child}" (\n        inherits = </levelNEXT>\n        instanceable = true\n    )\n    {{\n    }}'
        for child in range(10)
    )
    levels = [f'class "level{n}"\n{{\n{below.replace("NEXT", str(n + 1))}\n}}' for n in range(7)]
    mesh = 'class "level7"\n{\n    def Mesh "kelp"\n    {\n    }\n}'
    whole = 'def "all" (\n    inherits = </level0>\n)\n{\n}\n'
    (tmp_path / "kelp.usda").write_text("\n".join(["#usda 1.0", *levels, mesh, whole]))
    with pytest.raises(MeshqcError, match="prims, including instances"):
        open_animation(tmp_path / "kelp.usda")


def test_nothing_of_the_library_s_own_words_reaches_the_terminal(
    tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    """The library's messages quote names unchanged, so an escape sequence in a name would act on the terminal."""
    path = tmp_path / "kelp\x1b[2J.usda"
    path.write_text('#usda 1.0\ndef Mesh "kelp" (references = </nowhere\x07>) {}\ndef "b" (references = </gone>) {}\n')
    with contextlib.suppress(MeshqcError):
        open_animation(path)
    other = tmp_path / "jelly\x1b[2J.usda"
    other.write_text('#usda 1.0\ndef Mesh "jelly" (references = </gone>) {}\n')
    open_animation(other)
    said = capfd.readouterr()
    assert said.out == said.err == ""
