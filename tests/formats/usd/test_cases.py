"""Tests of stages as other tools write them. Sources: usd-core, the API documentation of OpenUSD, and calculations by
hand."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from pxr import Gf, Sdf, Usd, UsdGeom, UsdShade, UsdSkel, UsdUtils, Vt

from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.errors import MeshqcError
from inspector.formats.animation import Animation, Opening, Take
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Material, Slot
from inspector.formats.problems import UnreadableFrame
from inspector.sequence.discovery.animations import open_animation
from tests.helpers.images import image_file, spots
from tests.helpers.usd_stages import POINTS, V, add_mesh, bind, stage_at

ONE = Fraction(1)


def opened(tmp_path: Path, fill: Callable[[Usd.Stage], Any], opening: Opening | None = None) -> Animation:
    stage = Usd.Stage.CreateNew(str(tmp_path / "kelp.usda"))
    fill(stage)
    stage.Save()
    return open_animation(tmp_path / "kelp.usda", opening)


def said(animation: Animation) -> dict[str, bool]:
    return {one.what: one.seen for one in (*animation.notes, *animation.left_out)}


def test_materials_in_a_file_of_another_format_are_named_and_the_meshes_are_read(tmp_path: Path) -> None:
    (tmp_path / "looks.mtlx").write_text("<materialx version='1.38'/>")

    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage)
        stage.DefinePrim("/looks").GetReferences().AddReference("./looks.mtlx")

    animation = opened(tmp_path, fill)
    assert len(animation.mesh(ONE, Take()).positions) == 6
    assert said(animation)["a file that the scene refers to: ./looks.mtlx is not a layer that OpenUSD can read"]


@pytest.mark.parametrize("asset", ["gone.usda", "./gone.usda", "parts/gone.usda"])
def test_a_missing_file_is_called_missing(asset: str, tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage)
        stage.DefinePrim("/there").GetReferences().AddReference(asset)

    assert said(opened(tmp_path, fill)) == {f"a file that the scene refers to: {asset} is missing": True}


def test_a_file_outside_is_read_once_its_folder_is_allowed(tmp_path: Path) -> None:
    (tmp_path / "shot").mkdir()
    part = Usd.Stage.CreateNew(str(tmp_path / "part.usda"))
    part.SetDefaultPrim(add_mesh(part, "/leaf").GetPrim())
    part.Save()

    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage)
        stage.DefinePrim("/far").GetReferences().AddReference("../part.usda")

    closed = opened(tmp_path / "shot", fill)
    (what,) = said(closed)
    assert "../part.usda is outside the folder of the scene file (to read it, allow its folder with --allow)" in what
    assert [one.path for one in closed.meshes] == ["/kelp"]
    allowed = open_animation(tmp_path / "shot" / "kelp.usda", Opening(allowed=(tmp_path,)))
    assert [one.path for one in allowed.meshes] == ["/kelp", "/far"]
    assert said(allowed) == {}


def instanced(stage: Usd.Stage) -> None:
    instancer = UsdGeom.PointInstancer.Define(stage, "/bubbles")
    mesh = add_mesh(stage, "/bubbles/proto/one")
    UsdGeom.XformCommonAPI(mesh).SetTranslate((0, 0, 5))
    instancer.CreatePrototypesRel().SetTargets(["/bubbles/proto"])
    instancer.CreateProtoIndicesAttr([0, 0])
    instancer.CreatePositionsAttr([(10, 0, 0), (20, 0, 0)])
    UsdGeom.XformCommonAPI(instancer).SetTranslate((0, 100, 0))


def test_prototypes_of_an_instancer_are_no_meshes_and_its_copies_are_when_asked(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage)
        instanced(stage)

    animation = opened(tmp_path, fill)
    assert [one.path for one in animation.meshes] == ["/kelp"]
    assert said(animation) == {"copies made by point instancers (/bubbles); to include them, use --instances": True}
    whole = open_animation(tmp_path / "kelp.usda", Opening(instances=True))
    assert said(whole) == {}
    positions = whole.mesh(ONE, Take()).positions
    np.testing.assert_allclose(positions[6:12], np.add(POINTS, (10, 100, 5)))
    np.testing.assert_allclose(positions[12:], np.add(POINTS, (20, 100, 5)))


@pytest.mark.parametrize("hidden", ["", "/w/protos", "/w/protos/a", "/w/protos/a/m", "/w/pi"])
@pytest.mark.parametrize("how", ["guide", "proxy", "render", "invisible"])
def test_which_copies_are_visible_is_what_the_library_measures(tmp_path: Path, how: str, hidden: str) -> None:
    """Source: UsdGeomBBoxCache of usd-core. It leaves out invisible prims, and prims whose purpose is neither "default"
    nor "render"."""

    def fill(stage: Usd.Stage) -> None:
        UsdGeom.Xform.Define(stage, "/w")
        instancer = UsdGeom.PointInstancer.Define(stage, "/w/pi")
        UsdGeom.Scope.Define(stage, "/w/protos")
        UsdGeom.Xform.Define(stage, "/w/protos/a")
        add_mesh(stage, "/w/protos/a/m")
        instancer.CreatePrototypesRel().SetTargets(["/w/protos/a"])
        instancer.CreateProtoIndicesAttr([0])
        instancer.CreatePositionsAttr([(5, 0, 0)])
        if hidden:
            prim = UsdGeom.Imageable(stage.GetPrimAtPath(hidden))
            prim.CreateVisibilityAttr(how) if how == "invisible" else prim.CreatePurposeAttr(how)

    opened(tmp_path, fill)
    stage = Usd.Stage.Open(str(tmp_path / "kelp.usda"))
    instancer = UsdGeom.PointInstancer(stage.GetPrimAtPath("/w/pi"))
    cache = UsdGeom.BBoxCache(1.0, [UsdGeom.Tokens.default_, UsdGeom.Tokens.render])
    measured = cache.ComputePointInstanceWorldBound(instancer, 0).ComputeAlignedRange()
    if UsdGeom.Imageable(instancer).ComputeVisibility() == UsdGeom.Tokens.invisible:
        measured.SetEmpty()
    if cache.ComputeWorldBound(instancer.GetPrim()).ComputeAlignedRange().IsEmpty():
        measured.SetEmpty()
    copied = open_animation(tmp_path / "kelp.usda", Opening(instances=True))
    if measured.IsEmpty():
        with pytest.raises(MeshqcError, match="no vertices"):
            copied.mesh(ONE, Take(("/w/pi",)))
    else:
        positions = copied.mesh(ONE, Take(("/w/pi",))).positions
        np.testing.assert_allclose([positions.min(0), positions.max(0)], [measured.GetMin(), measured.GetMax()])


def test_a_unit_stored_in_single_precision_and_points_of_another_type(tmp_path: Path) -> None:
    (tmp_path / "kelp.usda").write_text(
        '#usda 1.0\n(\n    metersPerUnit = 1\n)\ndef Mesh "good" {\n point3f[] points = [(0,0,0),(1,0,0),(0,1,0)]\n'
        " int[] faceVertexCounts = [3]\n int[] faceVertexIndices = [0,1,2]\n}\n"
        'def Mesh "odd" {\n double4[] points = [(0,0,0,0)]\n int[] faceVertexCounts = []\n}\n'
        'def Mesh "none" {\n int[] faceVertexCounts = [3]\n int[] faceVertexIndices = [0,1,2]\n}\n'
    )
    animation = open_animation(tmp_path / "kelp.usda")
    assert animation.metres == 1.0
    assert len(animation.mesh(ONE, Take()).positions) == 3, "one bad mesh does not refuse the others"
    assert any("/odd: points" in what and seen for what, seen in said(animation).items())
    with pytest.raises(MeshqcError, match="/odd: points: the type of the values is not allowed"):
        animation.mesh(ONE, Take(("/odd",)))


def test_what_is_lost_of_several_frames_is_counted(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        for number in (1, 2, 3):
            add_mesh(stage).CreatePointsAttr().Set([(x, y, number) for x, y, _ in POINTS], number)
        add_mesh(stage, "/odd").GetFaceVertexCountsAttr().Set([3, 3])

    animation = opened(tmp_path, fill)
    result = unpack(tmp_path / "kelp.usda", animation, UnpackRequest(animation.frames, Take()), tmp_path / "out")
    ((loss, numbers),) = result.left_out.items()
    assert ("/odd: faceVertexCounts" in loss.what, numbers) == (True, [1, 2, 3])


def test_a_stage_without_anything_visible_says_so(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        UsdGeom.Imageable(add_mesh(stage)).CreateVisibilityAttr().Set("invisible")

    animation = opened(tmp_path, fill)
    with pytest.raises(MeshqcError, match=r"^kelp\.usda: no mesh is visible in any frame; no frame can be unpacked$"):
        unpack(tmp_path / "kelp.usda", animation, UnpackRequest(animation.frames, Take()), tmp_path / "out")
    assert not (tmp_path / "out").exists()


def test_frames_in_which_nothing_is_visible_are_empty_frames(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        visibility = UsdGeom.Imageable(add_mesh(stage)).CreateVisibilityAttr()
        visibility.Set("invisible", 1)
        visibility.Set("inherited", 3)
        stage.SetStartTimeCode(1)
        stage.SetEndTimeCode(4)

    animation = opened(tmp_path, fill)
    result = unpack(tmp_path / "kelp.usda", animation, UnpackRequest(animation.frames, Take()), tmp_path / "out")
    assert result.damaged == {}
    (one,) = result.after.inspections
    assert [facts.faces for facts in one.series.facts] == [0, 0, 2, 2]
    assert [finding.check for finding in one.findings if "empty" in finding.check] == ["empty-frames"]


def test_a_visibility_above_a_static_mesh_makes_its_frames(tmp_path: Path) -> None:
    """A mesh inherits visibility (OpenUSD, UsdGeomImageable), so samples of its parent's visibility animate it."""

    def fill(stage: Usd.Stage) -> None:
        visibility = UsdGeom.Xform.Define(stage, "/reef").CreateVisibilityAttr()
        for number, state in ((1, "inherited"), (3, "invisible"), (4, "inherited")):
            visibility.Set(state, number)
        add_mesh(stage, "/reef/kelp")

    animation = opened(tmp_path, fill)
    assert animation.frames == (1, 2, 3, 4)
    with pytest.raises(UnreadableFrame):
        animation.mesh(animation.frames[2], Take())
    assert len(animation.mesh(animation.frames[3], Take()).positions) == len(POINTS)


def test_a_sole_sample_between_frames_is_the_frame_before_it(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage).GetPointsAttr().Set(POINTS, 8.3)

    animation = opened(tmp_path, fill)
    assert (animation.frames, animation.sub_frames) == ((8,), ())
    assert len(animation.mesh(Fraction(8), Take()).positions) == 6


def test_samples_between_frames_are_counted_and_can_be_taken(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        points = add_mesh(stage).GetPointsAttr()
        for time in (1, 1.5, 2, 2.25):
            points.Set([(x, y, time) for x, y, _ in POINTS], time)

    animation = opened(tmp_path, fill)
    assert (animation.frames, animation.sub_frames) == ((1, 2), (Fraction(3, 2), Fraction(9, 4)))
    assert animation.mesh(Fraction(3, 2), Take()).positions[0, 2] == 1.5


def test_corners_whose_uv_is_not_authored_have_none(tmp_path: Path) -> None:
    # UsdGeomPrimvar, SetUnauthoredValuesIndex: this index represents values that were not authored.
    def fill(stage: Usd.Stage) -> None:
        primvar = UsdGeom.PrimvarsAPI(add_mesh(stage)).CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray)
        primvar.SetInterpolation("faceVarying")
        primvar.Set([(0, 0), (0.25, 0.5), (1, 1)])
        primvar.SetIndices([1, 2, 2, 1, 0, 0, 0, 0])
        primvar.SetUnauthoredValuesIndex(0)

    mesh = opened(tmp_path, fill).mesh(ONE, Take())
    assert mesh.corners.vt.tolist() == [0, 1, 1, 0, ABSENT, ABSENT, ABSENT, ABSENT]
    assert mesh.uvs.tolist() == [[0.25, 0.5], [1, 1]]


def rig(stage: Usd.Stage, shape: bool = False) -> None:
    root = UsdSkel.Root.Define(stage, "/rig")
    mesh = add_mesh(stage, "/rig/kelp")
    skeleton = UsdSkel.Skeleton.Define(stage, "/rig/bones")
    joints = ["low", "low/high"]
    skeleton.CreateJointsAttr(joints)
    rest = [Gf.Matrix4d(1), Gf.Matrix4d().SetTranslate((0, 1, 0))]
    skeleton.CreateRestTransformsAttr(rest)
    skeleton.CreateBindTransformsAttr(rest)
    UsdGeom.XformCommonAPI(skeleton).SetTranslate((0, 0, 7))
    moves = UsdSkel.Animation.Define(stage, "/rig/moves")
    moves.CreateJointsAttr(joints)
    moves.CreateTranslationsAttr([(0, 0, 0), (0, 2, 0)])
    moves.CreateScalesAttr([(1, 1, 1)] * 2)
    turn = Gf.Quatf(Gf.Rotation(Gf.Vec3d(0, 0, 1), 30).GetQuat())
    for time, one in ((1, Gf.Quatf(1)), (2, turn)):
        moves.CreateRotationsAttr().Set(Vt.QuatfArray([Gf.Quatf(1), one]), time)
    binding = UsdSkel.BindingAPI.Apply(mesh.GetPrim())
    binding.CreateSkeletonRel().SetTargets([skeleton.GetPath()])
    UsdSkel.BindingAPI.Apply(skeleton.GetPrim()).CreateAnimationSourceRel().SetTargets([moves.GetPath()])
    binding.CreateJointIndicesPrimvar(False, 2).Set([0, 1] * 6)
    binding.CreateJointWeightsPrimvar(False, 2).Set([1, 0, 1, 0, 0, 1, 0.25, 0.75, 0.5, 0.5, 0, 1])
    binding.CreateGeomBindTransformAttr(Gf.Matrix4d().SetTranslate((0, 0, 3)))
    if shape:
        target = UsdSkel.BlendShape.Define(stage, "/rig/kelp/lift")
        target.CreateOffsetsAttr([(0, 0, 1), (0, 0, 2)])
        target.CreatePointIndicesAttr([1, 4])
        binding.CreateBlendShapesAttr(["lift"])
        binding.CreateBlendShapeTargetsRel().SetTargets([target.GetPath()])
        moves.CreateBlendShapesAttr(["lift"])
        moves.CreateBlendShapeWeightsAttr([0.5])
    assert root


@pytest.mark.parametrize("shape", [False, True], ids=["joints", "joints and a blend shape"])
def test_a_skeleton_poses_the_mesh_as_usd_core_bakes_it(tmp_path: Path, shape: bool) -> None:
    animation = opened(tmp_path, lambda stage: rig(stage, shape))
    assert animation.frames == (1, 2)
    assert said(animation) == {}
    stage = Usd.Stage.Open(str(tmp_path / "kelp.usda"))
    stage.SetEditTarget(stage.GetSessionLayer())
    assert UsdSkel.BakeSkinning(stage.Traverse(), Gf.Interval(1, 2))
    prim = stage.GetPrimAtPath("/rig/kelp")
    for number in (1, 2):
        world = UsdGeom.XformCache(number).GetLocalToWorldTransform(prim)
        theirs = [world.Transform(Gf.Vec3d(point)) for point in UsdGeom.Mesh(prim).GetPointsAttr().Get(number)]
        np.testing.assert_allclose(animation.mesh(Fraction(number), Take()).positions, np.array(theirs), atol=1e-5)


def shade(stage: Usd.Stage, mesh: UsdGeom.Mesh, **inputs: Any) -> UsdShade.Shader:
    material = UsdShade.Material.Define(stage, "/looks/wet")
    surface = UsdShade.Shader.Define(stage, "/looks/wet/surface")
    surface.CreateIdAttr("UsdPreviewSurface")
    material.CreateSurfaceOutput().ConnectToSource(surface.ConnectableAPI(), "surface")
    kinds = {"diffuseColor": "Color3f", "emissiveColor": "Color3f", "normal": "Normal3f"}
    for name, given in inputs.items():
        made = surface.CreateInput(name, getattr(Sdf.ValueTypeNames, kinds.get(name, "Float")))
        if isinstance(given, tuple) and isinstance(given[0], UsdShade.Shader):
            made.ConnectToSource(given[0].ConnectableAPI(), given[1])
        else:
            made.Set(given)
    UsdShade.MaterialBindingAPI.Apply(mesh.GetPrim()).Bind(material)
    return surface


def texture(stage: Usd.Stage, name: str, file: str, **inputs: Any) -> UsdShade.Shader:
    shader = UsdShade.Shader.Define(stage, f"/looks/wet/{name}")
    shader.CreateIdAttr("UsdUVTexture")
    shader.CreateInput("file", Sdf.ValueTypeNames.Asset).Set(file)
    for key, given in inputs.items():
        kind = "Token" if isinstance(given, str) else "Float4"
        shader.CreateInput(key, getattr(Sdf.ValueTypeNames, kind)).Set(given)
    return shader


def with_uvs(stage: Usd.Stage, name: str = "st") -> UsdGeom.Mesh:
    mesh = add_mesh(stage)
    UsdGeom.PrimvarsAPI(mesh).CreatePrimvar(name, Sdf.ValueTypeNames.TexCoord2fArray, "vertex").Set(
        [(x / 2, y / 2) for x, y, _ in POINTS]
    )
    return mesh


def material_of(animation: Animation) -> Material:
    (material,) = animation.mesh(ONE, Take()).materials
    return material


def test_all_maps_of_a_preview_surface_go_to_their_slots(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        mesh = with_uvs(stage)
        packed = texture(stage, "orm", "./orm.png")
        signed = {"scale": Gf.Vec4f(4, 4, 2, 1), "bias": Gf.Vec4f(-2, -2, -1, 0)}
        shade(
            stage,
            mesh,
            diffuseColor=(texture(stage, "skin", "./skin.png", wrapS="clamp", wrapT="clamp"), "rgb"),
            opacity=(texture(stage, "cut", "./skin.png"), "a"),
            roughness=(packed, "g"),
            metallic=(packed, "b"),
            normal=(texture(stage, "bumps", "./n.png", **signed), "rgb"),
            emissiveColor=(texture(stage, "glow", "./glow.png", scale=Gf.Vec4f(2, 1, 0, 1)), "rgb"),
        )

    for name in ("skin", "orm", "n", "glow"):
        (tmp_path / f"{name}.png").write_bytes(image_file(spots()))
    animation = opened(tmp_path, fill)
    material = material_of(animation)
    assert said(animation) == {}
    assert [(one.slot, str(one.image.name), one.channel, one.strength, one.clamp) for one in material.maps] == [
        (Slot.COLOUR, "skin.png", "", 1, True),
        (Slot.OPACITY, "skin.png", "a", 1, False),
        (Slot.ROUGHNESS, "orm.png", "g", 1, False),
        (Slot.METALLIC, "orm.png", "b", 1, False),
        (Slot.NORMAL, "n.png", "", 2, False),
        (Slot.EMISSIVE, "glow.png", "", 1, False),
    ]
    assert material.emissive == (2, 1, 0)
    assert material.map(Slot.NORMAL).image.data == image_file(spots())  # type: ignore[union-attr]


def test_what_else_a_surface_has_is_named(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        mesh = with_uvs(stage)
        odd = {"scale": Gf.Vec4f(2, -2, 2, 1), "bias": Gf.Vec4f(-1, 1, -1, 0)}
        surface = shade(stage, mesh, normal=(texture(stage, "bumps", "./n.png", **odd), "rgb"), clearcoat=0.5)
        occlusion = texture(stage, "ao", "./ao.png")
        surface.CreateInput("occlusion", Sdf.ValueTypeNames.Float).ConnectToSource(occlusion.ConnectableAPI(), "r")

    ((what, seen),) = said(opened(tmp_path, fill)).items()
    assert what == "material wet: the scale and bias of its normal map, its clearcoat, its occlusion map"
    assert seen


def test_a_transform_of_the_uvs_is_applied_and_the_named_set_is_read(tmp_path: Path) -> None:
    # UsdPreviewSurface specification, UsdTransform2d: in * scale * rotate + translation; counter-clockwise, in degrees.
    def fill(stage: Usd.Stage) -> None:
        skin = texture(stage, "skin", "./skin.png")
        mesh = with_uvs(stage, "wide")
        UsdGeom.PrimvarsAPI(mesh).CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "vertex").Set([(9, 9)] * 6)
        reader = UsdShade.Shader.Define(stage, "/looks/wet/reader")
        reader.CreateIdAttr("UsdPrimvarReader_float2")
        reader.CreateInput("varname", Sdf.ValueTypeNames.String).Set("wide")
        moved = UsdShade.Shader.Define(stage, "/looks/wet/moved")
        moved.CreateIdAttr("UsdTransform2d")
        moved.CreateInput("in", Sdf.ValueTypeNames.Float2).ConnectToSource(reader.ConnectableAPI(), "result")
        moved.CreateInput("scale", Sdf.ValueTypeNames.Float2).Set(Gf.Vec2f(2, 3))
        moved.CreateInput("rotation", Sdf.ValueTypeNames.Float).Set(90.0)
        moved.CreateInput("translation", Sdf.ValueTypeNames.Float2).Set(Gf.Vec2f(1, 0))
        skin.CreateInput("st", Sdf.ValueTypeNames.Float2).ConnectToSource(moved.ConnectableAPI(), "result")
        shade(stage, mesh, diffuseColor=(skin, "rgb"))

    animation = opened(tmp_path, fill)
    mesh = animation.mesh(ONE, Take())
    uvs = mesh.uvs[mesh.corners.vt]
    np.testing.assert_allclose(uvs, [(1 - 3 * POINTS[v][1] / 2, POINTS[v][0]) for v in V], atol=1e-6)
    assert said(animation) == {
        "all but one UV set per mesh (sets: wide, st); the main set, or the set given with --uv-set, is kept": False
    }


def test_another_uv_set_is_listed_and_taken(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        mesh = with_uvs(stage, "UVMap")
        UsdGeom.PrimvarsAPI(mesh).CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "vertex").Set([(9, 9)] * 6)

    animation = opened(tmp_path, fill)
    assert [mesh.uv_sets for mesh in animation.meshes] == [("st", "UVMap")]
    assert np.unique(animation.mesh(ONE, Take()).uvs).tolist() == [9]
    taken = animation.mesh(ONE, Take(uv_set="UVMap"))
    np.testing.assert_array_equal(taken.uvs[taken.corners.vt], [(POINTS[v][0] / 2, POINTS[v][1] / 2) for v in V])
    assert not len(animation.mesh(ONE, Take(uv_set="wet")).uvs)


def test_a_set_that_a_material_reads_and_that_is_not_taken_is_named(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        mesh = with_uvs(stage, "wide")
        UsdGeom.PrimvarsAPI(mesh).CreatePrimvar("st", Sdf.ValueTypeNames.TexCoord2fArray, "vertex").Set([(9, 9)] * 6)
        skin = texture(stage, "skin", "./skin.png")
        reader = UsdShade.Shader.Define(stage, "/looks/wet/reader")
        reader.CreateIdAttr("UsdPrimvarReader_float2")
        reader.CreateInput("varname", Sdf.ValueTypeNames.String).Set("wide")
        skin.CreateInput("st", Sdf.ValueTypeNames.Float2).ConnectToSource(reader.ConnectableAPI(), "result")
        shade(stage, mesh, diffuseColor=(skin, "rgb"))

    animation = opened(tmp_path, fill)
    assert not any(loss.seen for loss in animation.mesh(ONE, Take()).left_out)
    (loss,) = animation.mesh(ONE, Take(uv_set="st")).left_out
    assert loss.what == "a UV set that a material reads; only one set per mesh is kept"
    assert loss.seen


@pytest.mark.parametrize(
    ("kind", "third"), [("TexCoord3f", 0), ("TexCoord3d", 0), ("TexCoord3h", 0), ("TexCoord3f", 1)]
)
def test_uvs_with_a_third_coordinate_are_read_without_it(tmp_path: Path, kind: str, third: float) -> None:
    # UsdGeom user guide, "texture coordinates": texCoord2 and texCoord3 in three precisions.
    def fill(stage: Usd.Stage) -> None:
        primvars = UsdGeom.PrimvarsAPI(add_mesh(stage))
        made = primvars.CreatePrimvar("st", getattr(Sdf.ValueTypeNames, f"{kind}Array"), "vertex")
        made.Set([(x / 2, y / 2, third) for x, y, _ in POINTS])

    animation = opened(tmp_path, fill)
    mesh = animation.mesh(ONE, Take())
    np.testing.assert_array_equal(mesh.uvs[mesh.corners.vt], [(POINTS[v][0] / 2, POINTS[v][1] / 2) for v in V])
    assert said(animation) == ({"the third coordinate of UVs": False} if third else {})


def test_tiles_of_an_image_are_brought_along(tmp_path: Path) -> None:
    for number in (1001, 1012):
        (tmp_path / f"skin.{number}.png").write_bytes(image_file(spots() + number % 7))

    def fill(stage: Usd.Stage) -> None:
        shade(stage, with_uvs(stage), diffuseColor=(texture(stage, "skin", "./skin.<UDIM>.png"), "rgb"))

    animation = opened(tmp_path, fill)
    unpack(tmp_path / "kelp.usda", animation, UnpackRequest(animation.frames, Take()), tmp_path / "out")
    assert "map_Kd textures/kelp_skin.<UDIM>.png" in (tmp_path / "out" / "kelp.mtl").read_text()
    for number in (1001, 1012):
        again = (tmp_path / "out" / "textures" / f"kelp_skin.{number}.png").read_bytes()
        assert again == (tmp_path / f"skin.{number}.png").read_bytes()


@pytest.mark.parametrize("kind", ["vertex", "constant", "uniform"])
def test_colours_of_points_are_carried_and_those_of_faces_are_named(kind: str, tmp_path: Path) -> None:
    colours = [(n / 8, 0, 1) for n in range({"vertex": 6, "constant": 1, "uniform": 2}[kind])]

    def fill(stage: Usd.Stage) -> None:
        add_mesh(stage).CreateDisplayColorPrimvar(kind).Set(colours)

    animation = opened(tmp_path, fill)
    mesh = animation.mesh(ONE, Take())
    if kind == "uniform":
        assert len(mesh.colours) == 0
        assert said(animation) == {"colours per face or per corner (displayColor)": True}
    else:
        np.testing.assert_array_equal(mesh.colours, colours if kind == "vertex" else colours * 6)
        assert said(animation) == {}


def test_a_range_that_ends_before_it_starts_is_refused(tmp_path: Path) -> None:
    def fill(stage: Usd.Stage) -> None:
        stage.SetStartTimeCode(10)
        stage.SetEndTimeCode(1)
        add_mesh(stage)

    with pytest.raises(MeshqcError, match=r"the range of time codes ends \(1\) before it starts \(10\)"):
        opened(tmp_path, fill)


def test_an_encrypted_texture_in_a_package_is_a_map_without_content(tmp_path: Path) -> None:
    """Bit 0 of the general purpose flags means encrypted. Source: PKWARE, APPNOTE.TXT, 4.4.4."""
    stage = stage_at(tmp_path / "kelp.usda")
    (tmp_path / "skin.png").write_bytes(image_file(spots()))
    UsdShade.MaterialBindingAPI.Apply(add_mesh(stage).GetPrim()).Bind(bind(stage, "/skin", (0, 0, 0), "./skin.png"))
    stage.Save()
    package = tmp_path / "kelp.usdz"
    assert UsdUtils.CreateNewUsdzPackage(str(tmp_path / "kelp.usda"), str(package))
    (material,) = open_animation(package).mesh(ONE, Take()).materials
    assert material.maps[0].image.data == image_file(spots())
    data = bytearray(package.read_bytes())
    data[data.rindex(b"PK\x01\x02", 0, data.rindex(b"skin.png")) + 8] |= 1
    package.write_bytes(data)
    (material,) = open_animation(package).mesh(ONE, Take()).materials
    assert material.maps[0].image.data is None


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (
            '#usda 1.0\ndef Mesh "a"\n{\n  point3f[] points = [(0,0\n}\n',
            "breaks the rules of its format: line 5 can't be parsed",
        ),
        (
            b"PXR-USDC" + bytes([0, 99]) + bytes(100),
            "a feature that is not supported: the binary form has version 0.99.0",
        ),
    ],
)
def test_a_file_that_cannot_be_parsed_says_so_in_words(content: str | bytes, words: str, tmp_path: Path) -> None:
    path = tmp_path / ("kelp.usda" if isinstance(content, str) else "kelp.usdc")
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(MeshqcError) as caught:
        open_animation(path)
    assert words in str(caught.value)
    assert "pxr" not in str(caught.value)
