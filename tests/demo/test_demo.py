"""Tests of the demo's generator."""

from __future__ import annotations

import io
from contextlib import ExitStack
from pathlib import Path, PurePosixPath, PureWindowsPath

import numpy as np
import pytest
import tinyobjloader
import trimesh
from PIL import Image

from inspector.demo import buoy, demo_files, kelp, outline, swim, write_demo
from inspector.demo.folders import _write
from inspector.demo.quad_mesh import ABSENT, Floats, Indices
from inspector.errors import MeshqcError, Refusal
from inspector.inspection.inspection import inspect_folder
from tests.helpers.command import assert_one_sentence, starved

FIXTURES = Path(__file__).parents[2] / "fixtures"
FOLDERS = ("manta", "manta_broken", "kelp_broken", "buoy")
FILES = demo_files()


def lines(name: str, keyword: str) -> list[list[str]]:
    rows = (row.split(" ") for row in FILES[name].decode("ascii").split("\n"))
    return [row[1:] for row in rows if row[0] == keyword]


def numbers(name: str, keyword: str) -> Floats:
    return np.array(lines(name, keyword), dtype=float)


def faces(name: str) -> tuple[Indices, Indices, Indices]:
    corners = np.array([[corner.split("/") for corner in face] for face in lines(name, "f")])
    v, vt, vn = np.where(corners == "", str(ABSENT + 1), corners).astype(int).transpose(2, 0, 1) - 1
    return v, vt, vn


def triangles(quads: Indices) -> Indices:
    return np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])


def signed_areas(corners: Floats) -> Floats:
    """Return the areas of planar quads: half the cross products of the diagonals. Counter-clockwise quads have positive
    areas."""
    one, other = corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1]
    return (one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]) / 2


MANTA = [f"manta/manta.{frame:04}.obj" for frame in range(1, 25)]
KELP = [f"kelp_broken/kelp_broken.{frame:04}.obj" for frame in range(1, 13)]


# ---- bytes


def test_fixtures_hold_exactly_the_generators_output() -> None:
    paths = [path for folder in FOLDERS for path in (FIXTURES / folder).rglob("*") if path.is_file()]
    assert {path.relative_to(FIXTURES).as_posix(): path.read_bytes() for path in paths} == FILES
    assert sum(map(len, FILES.values())) < 6_000_000


def test_two_runs_write_the_same_bytes(tmp_path: Path) -> None:
    first, second = write_demo(tmp_path / "a"), write_demo(tmp_path / "b")
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in second] == list(FILES.values())


def test_no_number_lies_where_another_machine_might_round_it_otherwise() -> None:
    """Implementations of sine differ in the last of 53 bits. This must not change the six decimal places in the
    files."""
    manta, frond = swim.swim(1, "manta"), kelp.rest()
    arrays = [manta.uvs, outline.layout(rim_with_belly=True)[0], frond.positions, frond.normals]
    for frame in swim.FRAMES:
        arrays += [swim.swim(frame, "manta").positions, swim.swim(frame, "manta").normals]
    for frame in kelp.FRAMES:
        arrays += [kelp.sway(frame).positions, kelp.sway(frame).normals]
    for frame in buoy.FRAMES:
        arrays += [buoy.bob(frame).positions, buoy.bob(frame).normals, buoy.bob(frame).uvs]
    millionths = np.concatenate([array.ravel() for array in arrays]) * 1e6
    room = np.abs(millionths - np.floor(millionths) - 0.5) * 1e-6
    assert (room > 50 * np.spacing(np.abs(millionths) * 1e-6)).all()


def test_what_is_there_stays(tmp_path: Path) -> None:
    write_demo(tmp_path)
    stamps = {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.obj")}
    write_demo(tmp_path)
    assert {path: path.stat().st_mtime_ns for path in tmp_path.rglob("*.obj")} == stamps


def test_a_foreign_file_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    foreign = tmp_path / "kelp_broken" / "kelp_rest.obj"
    foreign.parent.mkdir()
    foreign.write_text("mine")
    with pytest.raises(Refusal, match=r"kelp_rest\.obj"):
        write_demo(tmp_path)
    assert foreign.read_text() == "mine"
    assert list(tmp_path.rglob("*")) == [foreign.parent, foreign]


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(MeshqcError, match="file"):
        write_demo(tmp_path / "file")


def test_of_a_demo_that_can_not_be_written_nothing_is_left(tmp_path: Path) -> None:
    """RLIMIT_FSIZE (setrlimit, POSIX.1-2017) stops the writing of a texture after smaller files were written."""
    sizes = [len(content) for content in demo_files().values()]
    limit = max(sizes) - 1
    assert sizes[0] < limit
    (tmp_path / "there").mkdir()
    for folder in ("new/harbour", "there"):
        run = starved(limit, ["demo", str(tmp_path / folder)])
        assert run.returncode == 2
        assert_one_sentence(run.stderr)
        assert "the demo could not be written (File too large)" in run.stderr
        assert list(tmp_path.rglob("*")) == [tmp_path / "there"]


def test_of_a_demo_that_is_stopped_only_what_was_there_before_is_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_demo(tmp_path)
    rest = tmp_path / "kelp_broken" / "kelp_rest.obj"
    for path in (path for path in tmp_path.rglob("*") if path.is_file() and path != rest):
        path.unlink()
    written: list[Path] = []

    def write(path: Path, content: bytes, undo: ExitStack) -> None:
        _write(path, content, undo)
        written.append(path)
        if len(written) == 30:
            raise KeyboardInterrupt

    monkeypatch.setattr("inspector.demo.folders._write", write)
    with pytest.raises(KeyboardInterrupt):
        write_demo(tmp_path)
    assert len(written) == 30
    assert [path for path in tmp_path.rglob("*") if path.is_file()] == [rest]


# ---- manta


def test_counts_agree_with_tinyobjloader(tmp_path: Path) -> None:
    """The counts are those of tinyobjloader 2.0rc13, with triangulation off."""
    write_demo(tmp_path)
    reader, config = tinyobjloader.ObjReader(), tinyobjloader.ObjReaderConfig()
    config.triangulate = False
    assert reader.ParseFromFile(str(tmp_path / MANTA[0]), config)
    attributes, (shape,) = reader.GetAttrib(), reader.GetShapes()
    counts = (len(attributes.vertices) // 3, len(attributes.texcoords) // 2, len(attributes.normals) // 3)
    assert counts == (600, 670, 600)
    assert list(shape.mesh.num_face_vertices) == [4] * 598
    assert [material.diffuse_texname for material in reader.GetMaterials()] == ["textures/manta.png"]


@pytest.mark.parametrize("name", MANTA)
def test_a_manta_is_closed_and_faces_outward(name: str) -> None:
    """The properties of the mesh are computed by trimesh, with process=False. For a closed surface of genus 0, Euler's
    formula is V - E + F = 2."""
    v, _, vn = faces(name)
    positions, normals = numbers(name, "v"), numbers(name, "vn")
    mesh = trimesh.Trimesh(positions, triangles(v), process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.euler_number == 2
    assert len(np.unique(v)) == 600
    assert 0.1 < mesh.volume < 0.2
    assert np.abs(np.linalg.norm(normals, axis=1) - 1).max() < 1e-6
    corners = positions[v]
    facing = np.cross(corners[:, 2] - corners[:, 0], corners[:, 3] - corners[:, 1])
    assert (np.einsum("fck,fk->fc", normals[vn], facing) > 0).all()


def test_only_positions_and_normals_change_over_the_swim() -> None:
    kept = [[line for line in FILES[name].split(b"\n")[1:] if line[:2] not in (b"v ", b"vn")] for name in MANTA]
    assert all(other == kept[0] for other in kept)
    assert [line for line in kept[0] if not line.startswith((b"vt ", b"f "))] == [
        b"# metres, Y up, right-handed", b"mtllib manta.mtl", b"o manta", b"g body", b"usemtl manta_skin", b"s 1", b"",
    ]  # fmt: skip
    assert len({FILES[name] for name in MANTA}) == 24


def test_the_swim_is_smooth_and_leads_forward() -> None:
    positions = np.array([numbers(name, "v") for name in MANTA])
    steps = np.sqrt(((positions[1:] - positions[:-1]) ** 2).sum(axis=2).mean(axis=1))
    assert np.abs(steps[1:] / steps[:-1] - 1).max() < 0.1
    box = positions.max(axis=1) - positions.min(axis=1)
    assert (box[:, 0] > 2.0).all()
    assert (box[:, 0] < 3.0).all()
    way = positions[-1].mean(axis=0) - positions[0].mean(axis=0)
    assert way == pytest.approx([0, way[1], 23 * swim.SPEED], abs=0.05)
    assert abs(way[1]) < 0.3


def test_uvs_lie_in_two_islands_that_are_no_mirror_images() -> None:
    uvs, (v, vt, _) = numbers(MANTA[0], "vt"), faces(MANTA[0])
    assert uvs.min() > 0
    assert uvs.max() < 1
    assert (signed_areas(uvs[vt]) > 0).all()
    pairs = np.unique(np.stack([v.ravel(), vt.ravel()]), axis=1)
    assert np.bincount(np.bincount(pairs[0])).tolist() == [0, 530, 70]  # 70 vertices are on the seam
    links = trimesh.graph.connected_components(np.concatenate([vt[:, [0, 1]], vt[:, [1, 2]], vt[:, [2, 3]]]))
    assert sorted(len(island) for island in links) == [300, 370]


# ---- the texture


@pytest.mark.parametrize("folder", ["manta", "manta_broken"])
def test_the_picture_is_twelve_by_five_and_shows_which_way_is_up(folder: str) -> None:
    with Image.open(io.BytesIO(FILES[f"{folder}/textures/manta.png"])) as image:
        assert image.format == "PNG"
        image.verify()
    with Image.open(io.BytesIO(FILES[f"{folder}/textures/manta.png"])) as image:
        assert len(set(np.ptp(np.array(image.convert("RGB")).reshape(-1, 3), axis=1))) > 3, "in colour"
        picture = np.array(image.convert("L"))
    assert picture.shape == (200, 480)
    arrow = picture > 240
    widths = arrow.sum(axis=1)
    assert widths.argmax() < 100, "the head is above the middle"
    tip = int(np.flatnonzero(widths)[0])
    assert (np.diff(widths[tip : widths.argmax()]) >= 0).all(), "and widens downward from its tip"
    word = (picture > 190) & (picture < 230)
    back, belly = (half[half.any(axis=1)][:, half.any(axis=0)] for half in (word[:, :240], word[:, 240:]))
    assert belly.sum() > 1000
    assert np.array_equal(belly, back[::-1, ::-1]), "the word is upside down on the back"
    assert not arrow[:, 240:].any()
    cells = picture.reshape(5, 40, 12, 40).transpose(0, 2, 1, 3).reshape(-1, 40, 40)
    glyphs = [cell[6:34, 12:28] < 40 for at, cell in enumerate(cells) if at // 12 not in (1, 2, 3)]  # not the word
    for glyph in glyphs:
        assert glyph.any()
        assert not any(np.array_equal(glyph, other) for other in (glyph[::-1], glyph[:, ::-1], glyph[::-1, ::-1]))


# ---- kelp


def test_every_kelp_frame_is_the_rest_model_sent_wrong() -> None:
    rest_v, rest_vt, _ = faces("kelp_broken/kelp_rest.obj")
    rest = numbers("kelp_broken/kelp_rest.obj", "v")
    assert np.ptp(rest, axis=0).max() == pytest.approx(1.8, rel=0.01)
    assert (signed_areas(numbers("kelp_broken/kelp_rest.obj", "vt")[rest_vt]) > 0).all()
    for name in KELP:
        v, vt, vn = faces(name)
        assert np.array_equal(v, rest_v)
        assert np.array_equal(vn, rest_v)
        assert (vt == ABSENT).all()
        assert lines(name, "vt") == []
        assert np.ptp(numbers(name, "v"), axis=0).max() == pytest.approx(180, rel=0.01)
    positions = np.array([numbers(name, "v") for name in KELP])
    steps = np.sqrt(((positions[1:] - positions[:-1]) ** 2).sum(axis=2).mean(axis=1))
    assert np.abs(steps[1:] / steps[:-1] - 1).max() < 0.25
    assert sorted(name for name in FILES if "kelp_broken.0" in name) == KELP


def test_every_kelp_link_is_dead_and_its_file_lies_elsewhere() -> None:
    maps = [line for keyword in ("map_Kd", "bump") for line in lines("kelp_broken/materials/kelp.mtl", keyword)]
    links = {row[0] for name in KELP for row in lines(name, "mtllib")} | {row[-1] for row in maps}
    assert len(maps) == 2
    assert len(links) == 2
    places = [PurePosixPath(name) for name in FILES if name.startswith("kelp_broken/")]
    for link in links:
        assert "\\" in link
        name = PureWindowsPath(link).name
        assert name not in [place.name for place in places]
        assert [place.name for place in places].count(name.lower()) == 1


# ---- buoy


def test_the_buoy_is_closed_and_its_label_has_an_island_of_its_own() -> None:
    """The properties of the mesh are computed by trimesh, with process=False. The three bodies are the buoy, its
    lantern and the bracket between them."""
    name = "buoy/buoy.0001.obj"
    v, vt, _ = faces(name)
    mesh = trimesh.Trimesh(numbers(name, "v"), triangles(v), process=False)
    assert mesh.is_watertight
    assert mesh.is_winding_consistent
    assert mesh.body_count == 3
    assert mesh.volume > 0
    uvs = numbers(name, "vt")
    assert (signed_areas(uvs[vt]) > 0).all(), "no face is mirrored"
    label = uvs[vt[buoy.bob(1).others[0][0] :]]
    assert (label.min(axis=(0, 1)).tolist(), label.max(axis=(0, 1)).tolist()) == ([0, 0], [1, 1])
    assert signed_areas(label).sum() == pytest.approx(1)


def test_the_buoy_is_healthy(tmp_path: Path) -> None:
    write_demo(tmp_path)
    (inspection,) = inspect_folder(tmp_path / "buoy").inspections
    assert inspection.findings == ()
