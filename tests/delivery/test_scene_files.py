"""Tests of delivered scene files, read with usd-core, trimesh and the tool."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from fractions import Fraction
from hashlib import sha256
from pathlib import Path

import numpy as np
import pytest
import trimesh
from PIL import Image
from pxr import Usd, UsdGeom, UsdShade
from scipy.spatial import cKDTree

from inspector.cli.commands.fix import FORMS
from inspector.delivery.audit import audit
from inspector.delivery.choices import Choice
from inspector.delivery.deliver import Delivery, deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form, forms, refuse_numbers
from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.errors import MeshqcError, Refusal
from inspector.formats.alembic.mesh_out import ArchiveAnimationWriter
from inspector.formats.animation import Take
from inspector.formats.frame import Frame
from inspector.formats.mesh import Mesh, Part
from inspector.inspection.inspection import inspect_folder
from inspector.names import Name
from inspector.sequence.discovery.animations import open_animation
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.scan import load_frame
from tests.helpers.meshes import ABSENT, torus, with_faces
from tests.helpers.sequences import Files, frames, write


def delivered(source: Path, out: Path, form: Form, *choices: Choice) -> Delivery:
    inspection = inspect_folder(source)
    return deliver(make_plan(inspection, choices), out, form=form)


def frame_of(folder: Path, number: int) -> Frame:
    (path,) = folder.glob(f"*.{number:04d}.obj")
    return load_frame(path)


def sums_hold(folder: Path) -> bool:
    lines = (folder / "SHA256SUMS").read_text().splitlines()
    listed = {line.split("  ", 1)[1]: line.split("  ", 1)[0] for line in lines}
    there = {path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()} - {"SHA256SUMS"}
    return set(listed) == there and all(
        sha256((folder / name).read_bytes()).hexdigest() == value for name, value in listed.items()
    )


def test_the_words_of_the_command_are_the_forms_there_are() -> None:
    assert set(FORMS) == {"obj", *forms()}, (
        "FORMS in cli/commands/fix.py has a row for OBJ and for each format with `write` or `scene`: its id, and what "
        f"is written in a few words; only in one of them: {sorted(set(FORMS) ^ {'obj', *forms()})}"
    )


def test_usd_core_reads_what_was_delivered(demo: Path, tmp_path: Path) -> None:
    form = Form("usd", "cm", Fraction(25))
    delivery = delivered(demo / "manta", tmp_path / "out", form, Choice("scale", {"factor": 2.0}))
    assert delivery.proof.clean
    assert sums_hold(tmp_path / "out")
    stage = Usd.Stage.Open(str(tmp_path / "out" / "manta.usdc"))
    assert (stage.GetStartTimeCode(), stage.GetEndTimeCode(), stage.GetTimeCodesPerSecond()) == (1, 24, 25)
    assert UsdGeom.GetStageMetersPerUnit(stage) == 0.01
    assert UsdGeom.GetStageUpAxis(stage) == "Y"
    (mesh,) = (UsdGeom.Mesh(prim) for prim in stage.Traverse() if prim.IsA(UsdGeom.Mesh))
    primvar = UsdGeom.PrimvarsAPI(mesh).GetPrimvar("st")
    for number in (1, 13, 24):
        ours = frame_of(demo / "manta", number)
        theirs = np.asarray(mesh.GetPointsAttr().Get(number))
        np.testing.assert_allclose(theirs, 2 * ours.positions, rtol=1e-6, atol=1e-7)
        np.testing.assert_array_equal(mesh.GetFaceVertexIndicesAttr().Get(number), ours.corners.v)
        np.testing.assert_array_equal(mesh.GetFaceVertexCountsAttr().Get(number), ours.corners.sizes)
        uvs = np.asarray(primvar.ComputeFlattened(number))
        np.testing.assert_allclose(uvs, ours.uvs[ours.corners.vt], atol=1e-7)
    assert mesh.GetFaceVertexIndicesAttr().GetNumTimeSamples() == 0, "what stays is written once"
    (subset,) = UsdShade.MaterialBindingAPI(mesh).GetMaterialBindSubsets()
    material = UsdShade.MaterialBindingAPI(subset.GetPrim()).ComputeBoundMaterial()[0]
    assert material.GetPrim().GetName() == subset.GetPrim().GetName() == "manta_skin"
    texture = UsdShade.Shader(stage.GetPrimAtPath(f"{material.GetPath()}/texture"))
    resolved = texture.GetInput("file").Get().resolvedPath
    assert Path(resolved).read_bytes() == (demo / "manta" / "textures" / "manta.png").read_bytes()


def test_a_mesh_is_hidden_where_frames_are_missing_and_nowhere_else(tmp_path: Path) -> None:
    """Each frame has a second sample a quarter of a frame later. The time from this sample to the next frame is not a
    gap."""
    whole = frames({number: torus(9, 7) for number in (1, 2, 3, 5, 6)}, "kelp.")
    write(tmp_path / "in", whole | {name.replace(".obj", ".25.obj"): data for name, data in whole.items()})
    delivered(tmp_path / "in", tmp_path / "out", Form("usd"))
    stage = Usd.Stage.Open(str(tmp_path / "out" / "kelp.usdc"))
    (mesh,) = (UsdGeom.Mesh(prim) for prim in stage.Traverse() if prim.IsA(UsdGeom.Mesh))
    visibility = mesh.GetVisibilityAttr()
    found = [(time, visibility.Get(time)) for time in visibility.GetTimeSamples()]
    assert found == [(1.0, "inherited"), (4.0, "invisible"), (5.0, "inherited")]


def test_obj_to_usd_and_back(demo: Path, tmp_path: Path) -> None:
    delivered(demo / "manta", tmp_path / "usd", Form("usd"))
    path = tmp_path / "usd" / "manta.usdc"
    animation = open_animation(path)
    unpack(path, animation, UnpackRequest(animation.frames, Take()), tmp_path / "back")
    for number in range(1, 25):
        before, after = frame_of(demo / "manta", number), frame_of(tmp_path / "back", number)
        np.testing.assert_array_equal(after.positions.astype(np.float32), before.positions.astype(np.float32))
        np.testing.assert_array_equal(after.uvs.astype(np.float32), before.uvs.astype(np.float32))
        for slot in ("offsets", "v", "vt", "vn"):
            np.testing.assert_array_equal(getattr(after.corners, slot), getattr(before.corners, slot))
        assert after.materials == before.materials
    library = (tmp_path / "back" / "manta.mtl").read_text()
    assert "map_Kd textures/manta_manta.png" in library


def test_obj_to_abc_and_back(demo: Path, tmp_path: Path) -> None:
    delivered(demo / "manta", tmp_path / "abc", Form("abc", rate=Fraction(25)))
    path = tmp_path / "abc" / "manta.abc"
    animation = open_animation(path)
    assert (animation.rate, animation.frames) == (25, tuple(range(1, 25)))
    unpack(path, animation, UnpackRequest(animation.frames, Take()), tmp_path / "back")
    for number in range(1, 25):
        before, after = frame_of(demo / "manta", number), frame_of(tmp_path / "back", number)
        np.testing.assert_array_equal(after.positions.astype(np.float32), before.positions.astype(np.float32))
        np.testing.assert_array_equal(after.uvs.astype(np.float32), before.uvs.astype(np.float32))
        for slot in ("offsets", "v", "vt"):
            np.testing.assert_array_equal(getattr(after.corners, slot), getattr(before.corners, slot))
        np.testing.assert_array_equal(
            after.normals[after.corners.vn].astype(np.float32), before.normals[before.corners.vn].astype(np.float32)
        )
        assert after.materials == before.materials


def test_obj_to_ply_and_back(tmp_path: Path) -> None:
    write(tmp_path / "in", frames({n: torus(9, 7).edit(positions=torus(9, 7).positions + n / 7) for n in range(1, 4)}))
    delivered(tmp_path / "in", tmp_path / "ply", Form("ply"))
    inspection = inspect_folder(tmp_path / "ply")
    plan = make_plan(inspection, [Choice("scale", {"factor": 2.0})])
    deliver(plan, tmp_path / "back")
    for number in (1, 2, 3):
        before, after = frame_of(tmp_path / "in", number), frame_of(tmp_path / "back", number)
        # PLY has one UV per vertex, so there are more vertices at seams, but every corner is where it was.
        moved = after.positions[after.corners.v], 2 * before.positions[before.corners.v]
        np.testing.assert_allclose(*moved, rtol=2e-7)
        np.testing.assert_array_equal(after.corners.offsets, before.corners.offsets)
        pairs = after.uvs[after.corners.vt], before.uvs[before.corners.vt]
        np.testing.assert_array_equal(*(pair.astype(np.float32) for pair in pairs))


def test_trimesh_reads_the_glbs(demo: Path, tmp_path: Path) -> None:
    delivery = delivered(demo / "manta", tmp_path / "out", Form("glb", "cm"))
    assert delivery.proof.clean
    assert sums_hold(tmp_path / "out")
    assert sorted(path.suffix for path in (tmp_path / "out").rglob("*") if path.is_file()) == [
        *[""], *[".glb"] * 24, ".json", ".txt"
    ]  # fmt: skip
    ours = frame_of(demo / "manta", 7)
    theirs = trimesh.load(tmp_path / "out" / "manta.0007.glb", force="mesh", process=False)
    # glTF uses metres (specification 3.4), so a centimetre is 0.01. A quad is two triangles, so 598 faces are 1,196
    # triangles.
    np.testing.assert_allclose(theirs.bounds * 100, ours.box, rtol=1e-6)
    assert len(theirs.faces) == int((ours.corners.sizes - 2).sum())
    assert theirs.visual.material.name == "manta_skin"
    image = theirs.visual.material.baseColorTexture
    with Image.open(demo / "manta" / "textures" / "manta.png") as skin:
        assert image.size == skin.size
    pairs = np.column_stack([theirs.vertices * 100, theirs.visual.uv])
    expected = np.column_stack([ours.positions[ours.corners.v], ours.uvs[ours.corners.vt]])
    assert cKDTree(pairs).query(expected)[0].max() < 1e-6
    assert cKDTree(expected).query(pairs)[0].max() < 1e-6


def changing() -> Files:
    return frames({1: torus(8, 6), 2: torus(8, 6), 3: torus(9, 7), 4: torus(9, 7)})


def test_progress_counts_each_frame_once(demo: Path, tmp_path: Path) -> None:
    plan = make_plan(inspect_folder(demo / "buoy"), [])
    told: list[tuple[int, int]] = []
    deliver(
        plan,
        tmp_path / "out",
        lambda stage, done, of: told.append((done, of)) if stage == "as glb" else None,
        form=Form("glb", None, None, share_textures=True),
    )
    assert len(list((tmp_path / "out/textures").iterdir())) == 2
    total = len(list((demo / "buoy").glob("*.obj")))
    assert told == [(done, total) for done in (0, 0, *range(1, total + 1))]


def test_changing_topology_is_written_as_time_samples(tmp_path: Path) -> None:
    write(tmp_path / "in", changing())
    delivered(tmp_path / "in", tmp_path / "out", Form("usd"))
    stage = Usd.Stage.Open(str(tmp_path / "out" / "manta.usdc"))
    (mesh,) = (UsdGeom.Mesh(prim) for prim in stage.Traverse() if prim.IsA(UsdGeom.Mesh))
    for number in range(1, 5):
        ours = frame_of(tmp_path / "in", number)
        np.testing.assert_array_equal(mesh.GetFaceVertexIndicesAttr().Get(number), ours.corners.v)
        assert len(mesh.GetPointsAttr().Get(number)) == len(ours.positions)
    assert mesh.GetFaceVertexIndicesAttr().GetTimeSamples() == [2, 3]


_PATCH = b"""v 0 0 0
v 1 0 0
v 1 1 0
v 0 1 0
v 2 0 0
v 2 1 0
vt 0 0
vt 1 0
vt 1 1
vn 0 0 1
vn 0 1 0
usemtl skin
f 1/1/1 2/2/1 3/3/1 4/1/2
usemtl fin
f 2/2/1 5/3/1 6/1/1 3/2/2
"""


@pytest.mark.parametrize(("form", "ending"), [("usd", "usdc"), ("abc", "abc")])
def test_materials_that_no_library_defines_stay_with_their_faces(form: str, ending: str, tmp_path: Path) -> None:
    swapped = _PATCH.replace(b"skin", b"belly").replace(b"fin", b"skin")
    write(tmp_path / "in", {"kelp.0001.obj": _PATCH, "kelp.0002.obj": swapped})
    delivered(tmp_path / "in", tmp_path / "out", Form(form))
    animation = open_animation(tmp_path / "out" / f"kelp.{ending}")
    for number, names in ((1, ["skin", "fin"]), (2, ["belly", "skin"])):
        parts = animation.mesh(Fraction(number), Take()).parts
        assert [part.material.text for part in parts if part.material is not None] == names


@pytest.mark.parametrize("lost", ["vt", "vn", "materials"])
def test_a_scene_that_reads_back_otherwise_is_not_delivered(
    lost: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    add = ArchiveAnimationWriter.add

    def forgetful(writer: ArchiveAnimationWriter, number: Fraction, mesh: Mesh) -> None:
        if lost == "materials":
            add(writer, number, replace(mesh, parts=(Part(0, len(mesh.corners.sizes)),)))
        else:
            other = {"vt": {"uvs": mesh.uvs * 0}, "vn": {"normals": -mesh.normals}}[lost]
            add(writer, number, replace(mesh, **other))

    monkeypatch.setattr(ArchiveAnimationWriter, "add", forgetful)
    write(tmp_path / "in", {"kelp.0001.obj": _PATCH, "kelp.0002.obj": _PATCH})
    with pytest.raises(MeshqcError, match="frame 1: the mesh that was read back differs"):
        delivered(tmp_path / "in", tmp_path / "out", Form("abc"))
    assert not (tmp_path / "out").exists()


def test_what_a_form_cannot_hold_is_refused_and_nothing_is_left(tmp_path: Path) -> None:
    partial = with_faces(torus(9, 7), lambda corner: (corner[0], ABSENT, ABSENT), [2, 3])
    write(tmp_path / "in", frames({1: partial, 2: partial}))
    with pytest.raises(Refusal, match=r"manta\.0001\.obj: only some faces have UVs, and Alembic can't hold"):
        delivered(tmp_path / "in", tmp_path / "out", Form("abc"))
    assert [path.name for path in tmp_path.iterdir()] == ["in"], "before anything was written"


@pytest.mark.parametrize(
    ("form", "line", "what"),
    [("ply", b"v 1e39 0 0", "position"), ("glb", b"vn 1e200 0 0", "normal"), ("glb", b"vt nan 0", "UV")],
)
def test_numbers_that_32_bits_cannot_hold_are_refused(form: str, line: bytes, what: str, tmp_path: Path) -> None:
    text = b"v 0 0 0\nv 1 0 0\nv 0 1 0\nvt 0 0\nvn 0 0 1\n"
    text += line + b"\nf 1/1/1 2/1/1 3/1/1\n"
    write(tmp_path / "in", {f"kelp.{number:04d}.obj": text for number in (1, 2)})
    with pytest.raises(
        Refusal, match=rf"kelp\.0001\.obj: a {what} contains a number that is not finite or is too large for"
    ):
        delivered(tmp_path / "in", tmp_path / "out", Form(form))
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("form", ["usd", "abc"])
def test_frame_numbers_that_a_scene_file_cannot_hold_are_refused_before_writing(form: str, tmp_path: Path) -> None:
    def refused(*numbers: int) -> str:
        try:
            refuse_numbers(Form(form), Name(b"kelp.#.obj"), [Fraction(number) for number in numbers])
        except Refusal as refusal:
            return str(refusal)
        return ""

    assert not refused(10**9 - 1, 10**9)
    assert "frame numbers above 1,000,000,000" in refused(10**9, 10**9 + 1)
    assert not refused(1, 10**6)
    assert "1,000,000 frames from first to last" in refused(1, 10**6 + 1)
    refuse_numbers(Form("glb"), Name(b"kelp.#.obj"), [Fraction(10**300)])
    ball = torus(9, 7)
    write(tmp_path / "in", frames({10**199: ball, 10**199 + 1: ball}))
    with pytest.raises(Refusal, match="renumber:start=1,padding=4"):
        delivered(tmp_path / "in", tmp_path / "out", Form(form))
    assert [path.name for path in tmp_path.iterdir()] == ["in"], "no staging folder either"
    delivered(tmp_path / "in", tmp_path / "out", Form(form), Choice("renumber", {"start": "1", "padding": "4"}))


def test_receipt_and_note_speak_of_the_form(demo: Path, tmp_path: Path) -> None:
    delivered(demo / "manta", tmp_path / "out", Form("usd"))
    receipt = json.loads((tmp_path / "out" / "meshqc-receipt.json").read_text())
    (scene,) = (file for file in receipt["files"] if file["path"].endswith(".usdc"))
    assert len(scene["before"]) == 24
    assert not [file for file in receipt["files"] if file["path"].endswith((".obj", ".mtl"))]
    note = (tmp_path / "out" / "HANDOFF.txt").read_text()
    assert "Written as OpenUSD" in note
    assert "objects are joined into one mesh" in note


@pytest.mark.parametrize("kind", ["usd", "glb", "off"])
def test_the_delivery_is_proven_later_too(demo: Path, tmp_path: Path, kind: str) -> None:
    delivered(demo / "manta", tmp_path / "out", Form(kind))
    found = audit(tmp_path / "out", Settings(), lambda _, __: None)
    assert (found.changed, found.missing, found.extra, found.disputed, found.new) == ((), (), (), (), ())


def test_stl_keeps_the_surface(demo: Path, tmp_path: Path) -> None:
    delivered(demo / "manta", tmp_path / "out", Form("stl"))
    data = (tmp_path / "out" / "manta.0005.stl").read_bytes()
    assert len(data) == 84 + 50 * 1196
    ours = trimesh.load(demo / "manta" / "manta.0005.obj", process=False)
    theirs = trimesh.load(io.BytesIO(data), file_type="stl", process=False)
    # Some quads are not planar, and trimesh may cut them along the other diagonal.
    assert theirs.area == pytest.approx(ours.area, rel=1e-3)
    np.testing.assert_allclose(theirs.bounds, ours.bounds, rtol=1e-6)
