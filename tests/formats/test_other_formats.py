"""Tests of sequences in formats other than OBJ."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspector.checks.base.registry import all_checks
from inspector.delivery.choices import Choice, all_choices
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.delivery.scene_files import Form
from inspector.delivery.unpack import UnpackRequest, unpack
from inspector.errors import Refusal
from inspector.formats.animation import Take
from inspector.formats.mesh import Image, Map, Material, Part, Slot
from inspector.formats.problems import KINDS, UnreadableFrame
from inspector.formats.reading import FrameReader, LibraryNames, library_name
from inspector.formats.registry import all_formats, format_by_id, format_of
from inspector.formats.wavefront.compose import compose, compose_library
from inspector.formats.wavefront.library import read_library
from inspector.formats.wavefront.reader import read_frame
from inspector.inspection.inspection import Inspection, inspect_folder
from inspector.names import Name
from inspector.sequence.discovery.animations import open_animation
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.scan import load_frame
from tests.helpers.gltf import scene, triangle
from tests.helpers.images import image_file, spots
from tests.helpers.meshes import Mesh, plain, torus, wing
from tests.helpers.meshes_out import mesh_of, ply_binary
from tests.helpers.sequences import finding_of, heard, look, look_at_all


def moved(mesh: Mesh, frame: int) -> Mesh:
    return mesh.edit(positions=mesh.positions + np.array([0.05 * frame, 0, 0]))


def written(kind: str, meshes: dict[int, Mesh], stem: str = "manta.") -> dict[str, bytes]:
    write = format_by_id(kind).write
    assert write is not None
    return {f"{stem}{frame:04d}.{kind}": write(mesh_of(mesh)) for frame, mesh in meshes.items()}


def ball(frame: int) -> Mesh:
    """Return a mesh that all formats can represent: triangles without UVs or smoothing."""
    ring = torus(12, 8)
    faces = [tuple(corner[0] for corner in face) for face in ring.faces]
    triangles = [cut for a, b, c, d in faces for cut in ((a, b, c), (a, c, d))]
    return moved(plain(ring.positions, triangles), frame).edit(smooth="")


def jumping() -> dict[int, Mesh]:
    meshes = {frame: ball(frame) for frame in range(1, 13)}
    meshes[7] = meshes[7].edit(positions=meshes[7].positions + np.array([0, 9, 0]))
    return meshes


def unpacked(folder: Path) -> Inspection:
    look(folder / "in", {f"manta.{frame:04d}.obj": mesh.text() for frame, mesh in jumping().items()})
    before = inspect_folder(folder / "in")
    deliver(make_plan(before, ()), folder / "usd", form=Form("usd"))
    path = folder / "usd" / "manta.usdc"
    animation = open_animation(path)
    (one,) = unpack(path, animation, UnpackRequest(animation.frames, Take()), folder / "out").after.inspections
    return one


@pytest.mark.parametrize("kind", ["ply", "stl", "off", "glb", "usd"])
def test_the_same_motion_gives_the_same_counts_boxes_drift_and_findings(tmp_path: Path, kind: str) -> None:
    files = {f"manta.{frame:04d}.obj": mesh.text() for frame, mesh in jumping().items()}
    ours = look(tmp_path / "obj", files)
    theirs = unpacked(tmp_path) if kind == "usd" else look(tmp_path / kind, written(kind, jumping()))
    # Faces in STL don't share vertices: each triangle has three.
    vertices = 3 * ours.series.reference_facts.faces if kind == "stl" else ours.series.reference_facts.vertices
    for a, b in zip(ours.series.facts, theirs.series.facts, strict=True):
        assert (b.format, b.vertices, b.faces) == ("obj" if kind == "usd" else kind, vertices, a.faces)
        assert a.box is not None
        np.testing.assert_allclose(b.box, a.box, rtol=1e-6)
    np.testing.assert_allclose(theirs.series.size_ratio, ours.series.size_ratio, rtol=1e-5)
    assert [heard_of(one) for one in judged(theirs, kind)] == [heard_of(one) for one in judged(ours, kind)]
    assert finding_of(theirs, "centre-jump").frames == finding_of(ours, "centre-jump").frames


def heard_of(finding: object) -> tuple[object, ...]:
    return (finding.check, finding.severity, finding.frames)  # type: ignore[attr-defined]


def judged(inspection: Inspection, kind: str) -> list[object]:
    carries = format_by_id(kind).carries
    needs = {check.id: set(check.needs) for check in all_checks()}
    return [finding for finding in inspection.findings if needs[finding.check] <= carries]


def test_what_a_format_cannot_carry_is_skipped_with_the_reason_and_never_a_finding(tmp_path: Path) -> None:
    inspection = look(tmp_path, written("stl", {frame: ball(frame) for frame in range(1, 6)}))
    assert heard(inspection) == []
    skipped = dict(inspection.verdict.skipped)
    assert skipped["no-uvs"] == "STL files can't hold UVs"
    assert skipped["line-ends"] == "STL files can't hold lines of text that an importer could misread"
    assert {check.id for check in all_checks() if check.needs} <= set(skipped)


def test_a_mixed_folder_is_told_apart_by_ending(tmp_path: Path) -> None:
    meshes = {frame: ball(frame) for frame in range(1, 4)}
    files = {f"manta.{frame:04d}.obj": mesh.text() for frame, mesh in meshes.items()}
    files |= written("ply", meshes) | written("stl", meshes)
    folder = look_at_all(tmp_path, files)
    patterns = [str(one.sequence.pattern) for one in folder.inspections]
    assert patterns == ["manta.####.obj", "manta.####.ply", "manta.####.stl"]


def test_the_content_tells_the_format_and_an_ending_that_says_another_is_an_error(tmp_path: Path) -> None:
    meshes = {frame: ball(frame) for frame in range(1, 4)}
    files = {name.replace(".ply", ".obj"): data for name, data in written("ply", meshes).items()}
    inspection = look(tmp_path, files)
    assert [facts.format for facts in inspection.series.facts] == ["ply"] * 3
    finding = finding_of(inspection, "other-format")
    assert len(finding.frames) == 3
    assert "PLY" in finding.message
    assert all(where.line is None for where in finding.where)


def test_every_format_is_recognised_by_what_it_writes_and_by_no_other() -> None:
    mesh = mesh_of(ball(1))
    samples = {one.id: one.write(mesh) for one in all_formats() if one.write}
    samples["obj"] = compose(mesh)
    document, primitive = triangle()
    samples |= {"glb": document.glb(scene([primitive])), "gltf": document.json(scene([primitive]))}
    frames = {one.id for one in all_formats() if one.scene is None}
    assert samples.keys() == frames, "a format that we don't write needs a sample here"
    for kind, data in samples.items():
        assert format_of(data, b".nothing").id == kind
        takers = [one.id for one in all_formats() if one.recognises(data[:16384], len(data))]
        assert takers == [kind]


def test_numbers_survive_the_words_of_obj() -> None:
    mesh = mesh_of(wing(0.7))
    frame = read_frame(compose(mesh))
    np.testing.assert_array_equal(frame.positions.astype(np.float32), mesh.positions)
    double = mesh_of(wing(0.7), np.float64)
    values = np.array([[1 / 3, 1e-300, -0.0], [1e300, 5e-324, 123456789.123456789]])
    double.positions[:2] = values
    np.testing.assert_array_equal(read_frame(compose(double)).positions[:2], values)


def test_a_cut_off_frame_is_unreadable_and_the_rest_is_judged(tmp_path: Path) -> None:
    files = written("ply", {frame: ball(frame) for frame in range(1, 9)})
    files["manta.0005.ply"] = files["manta.0005.ply"][:-40]
    inspection = look(tmp_path, files)
    assert ("unreadable", "error", [5]) in heard(inspection)
    assert [check for check, _, frames in heard(inspection) if frames == [5]] == ["unreadable"]
    finding = finding_of(inspection, "unreadable")
    assert "announces" in finding.message
    assert [where.line for where in finding.where] == [None]


def test_two_formats_of_one_name_cannot_both_become_obj(tmp_path: Path) -> None:
    meshes = {frame: ball(frame) for frame in range(1, 4)}
    look_at_all(tmp_path / "in", written("ply", meshes) | written("stl", meshes))
    folder = inspect_folder(tmp_path / "in")
    with pytest.raises(Refusal, match="a folder of its own"):
        deliver(make_plan(folder, [Choice("scale", {"factor": 2.0})]), tmp_path / "out")
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize("kind", ["ply", "off"])
def test_the_delivery_writes_obj_frames_that_prove_themselves(tmp_path: Path, kind: str) -> None:
    files = written(kind, {frame: ball(frame) for frame in range(1, 9)})
    del files[f"manta.0004.{kind}"]
    look(tmp_path / "in", files)
    inspection = inspect_folder(tmp_path / "in")
    plan = make_plan(inspection, [*all_choices(inspection), Choice("scale", {"factor": 2.0})])
    delivery = deliver(plan, tmp_path / "out")
    assert delivery.proof.clean
    assert sorted(path.name for path in (tmp_path / "out").glob("*.obj")) == [f"manta.{n:04d}.obj" for n in range(1, 9)]
    before, after = load_frame(tmp_path / "in" / f"manta.0003.{kind}"), load_frame(tmp_path / "out" / "manta.0003.obj")
    np.testing.assert_allclose(after.positions, 2 * before.positions, rtol=1e-6)
    np.testing.assert_array_equal(after.corners.v, before.corners.v)


def glb_frames(colour: float = 0.5) -> dict[str, bytes]:
    files = {}
    for frame in range(1, 5):
        document, primitive = triangle(material=0)
        document.views.append(document.bytes(image_file(spots())))
        more = {
            "images": [{"bufferView": len(document.views) - 1, "mimeType": "image/png"}],
            "textures": [{"source": 0}],
            "materials": [
                {
                    "name": "skin",
                    "pbrMetallicRoughness": {
                        "baseColorFactor": [1, colour if frame == 3 else 0.5, 0.5, 1],
                        "baseColorTexture": {"index": 0},
                    },
                }
            ],
        }
        node = {"translation": [0.1 * frame, 0, 0], "name": "manta"}
        files[f"manta.{frame:04d}.glb"] = document.glb({**scene([primitive], **node), **more})
    return files


def test_materials_and_textures_inside_frames_become_one_library_and_files(tmp_path: Path) -> None:
    inspection = look(tmp_path / "in", glb_frames())
    assert [check for check, severity, _ in heard(inspection) if severity != "note"] == []
    folder = inspect_folder(tmp_path / "in")
    plan = make_plan(folder, [Choice("scale", {"factor": 10.0})])
    delivery = deliver(plan, tmp_path / "out")
    assert delivery.proof.clean
    library = (tmp_path / "out" / "manta.mtl").read_text()
    assert "newmtl skin\nKd 1 0.5 0.5\nPr 1\nPm 1\nmap_Kd textures/manta_texture1.png" in library
    assert (tmp_path / "out" / "textures" / "manta_texture1.png").read_bytes() == image_file(spots())
    (after,) = delivery.after.inspections
    assert [str(name) for name in after.series.reference_facts.materials] == ["skin"]
    assert after.context.materials(0).undefined == ()


def test_materials_that_differ_from_frame_to_frame_are_a_finding_and_no_shared_library(tmp_path: Path) -> None:
    inspection = look(tmp_path / "in", glb_frames(colour=0.25))
    finding = finding_of(inspection, "materials-change")
    assert [int(number) for number in finding.frames] == [3]
    folder = inspect_folder(tmp_path / "in")
    with pytest.raises(Exception, match="skin"):
        make_plan(folder, [Choice("scale", {"factor": 10.0})])


def test_a_mesh_in_several_files_is_taken_from_the_cache_only_while_all_are_as_they_were(tmp_path: Path) -> None:
    document, primitive = triangle()
    folder, cache = tmp_path / "in", tmp_path / "cache"
    folder.mkdir()
    for frame in (1, 2):
        (folder / f"kelp.{frame:04d}.gltf").write_bytes(document.json(scene([primitive]), "kelp.bin"))
    for buffer, width in ((document.buffer, 1.0), (document.buffer.replace(b"\0\0\x80?", b"\0\0\0@"), 2.0)):
        (folder / "kelp.bin").write_bytes(buffer)
        for file in folder.iterdir():
            os.utime(file, (1e9, 1e9))
        known = FactsCache(cache)
        (one,) = inspect_folder(folder, cache=known).inspections
        known.close()
        assert one.series.reference_facts.box is not None
        assert one.series.reference_facts.box[3] == width


def samples() -> list[tuple[str, bytes]]:
    document, primitive = triangle()
    mesh = mesh_of(wing(0))
    files = [(one.endings[0].decode(), one.write(mesh_of(ball(1)))) for one in all_formats() if one.write]
    files.append((".ply", ply_binary("<", [(0, 0, 0)] * 4, [(0, 1, 2), (0, 1, 2, 3)])))
    files.append(
        (
            ".ply",
            b"ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\n"
            b"property float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n"
            b"0 0 0\n1 0 0\n0 1 0\n3 0 1 2\n",
        )
    )
    files.append((".obj", compose(mesh)))
    return [*files, (".glb", document.glb(scene([primitive]))), (".gltf", document.json(scene([primitive]), "x.bin"))]


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(samples()), st.data())
def test_any_damage_gives_a_frame_or_a_reason(sample: tuple[str, bytes], data: st.DataObject) -> None:
    ending, content = sample
    at = data.draw(st.integers(0, len(content)))
    some = data.draw(st.binary(max_size=8))
    cut = data.draw(st.integers(0, 8))
    damaged = content[:at] + some + content[at + cut :]
    kind = None
    try:
        frame = FrameReader().read(damaged, Path("/nowhere/manta.0001" + ending), lambda _: b"")
    except UnreadableFrame as error:
        kind = error.problem.kind
    assert kind in KINDS or frame.positions.shape[1] == 3


@pytest.mark.parametrize(
    ("name", "library"),
    [
        ("manta.0001.glb", "manta.mtl"),
        ("fish1.0001.glb", "fish1.mtl"),
        ("fish1_7.glb", "fish1.mtl"),
        ("fish7.glb", "fish.mtl"),
        ("manta.0001.5.glb", "manta.mtl"),
        ("shot.10.0001.glb", "shot.10.mtl"),
        ("0001.glb", "materials.mtl"),
    ],
)
def test_the_library_of_a_sequence_keeps_a_number_that_is_part_of_its_name(name: str, library: str) -> None:
    assert library_name(Path(name)).display == library


def test_textures_and_materials_of_like_names_stay_apart(tmp_path: Path) -> None:
    """In MTL, `skin` and `skin ` would be the same name. On a file system that ignores case, `diffuse.png` and
    `Diffuse.png` would be the same file."""
    skin, fins = Image(Name(b"diffuse.png"), b"one"), Image(Name(b"Diffuse.png"), b"two")
    materials = tuple(
        Material(Name(name), maps=(Map(Slot.COLOUR, image),)) for name, image in ((b"skin", skin), (b"skin ", fins))
    )
    parts = (Part(0, 6, material=Name(b"skin")), Part(6, 12, material=Name(b"skin ")))
    names = LibraryNames(tmp_path / "manta.0001.glb")
    first = names.applied(replace(mesh_of(wing(1)), parts=parts, materials=materials))
    again = names.applied(replace(mesh_of(wing(2)), parts=parts, materials=materials[::-1]))
    used = [b"skin", b"skin_2"]
    assert [part.material.raw for part in first.parts if part.material] == used
    assert [part.material.raw for part in again.parts if part.material] == used
    images = {one.image.name.raw: one.image.data for material in again.materials for one in material.maps}
    assert images == {b"textures/manta_diffuse.png": b"one", b"textures/manta_Diffuse_2.png": b"two"}
    assert read_library(compose_library(first.materials)).materials == tuple(map(Name, used))
