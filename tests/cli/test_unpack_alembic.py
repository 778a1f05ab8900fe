"""Tests of `meshqc unpack FILE.abc`."""

from __future__ import annotations

import json
import re
import shlex
from fractions import Fraction
from pathlib import Path

import numpy as np
import pytest

from inspector.demo import kelp
from inspector.formats.alembic.mesh import MeshSample
from inspector.formats.alembic.mesh_out import MeshWriter
from inspector.formats.alembic.times import TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter
from inspector.sequence.discovery.animations import open_animation
from tests.helpers.alembic import SQUARE, XFORM, add_mesh, archive_bytes, put, show
from tests.helpers.command import meshqc

FRAMES = tuple(map(Fraction, kelp.FRAMES))


def in_file(number: int) -> np.ndarray:
    """Return the kelp's positions as the file contains them: float32 centimetres, turned about x so that z is up."""
    positions = kelp.sway(number).positions
    return np.stack([positions[:, 0], -positions[:, 2], positions[:, 1]], axis=1).astype(np.float32)


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    path, model = tmp_path / "kelp.abc", kelp.rest()
    with path.open("wb") as file:
        writer = MeshWriter(file, "kelp", Fraction(25), FRAMES, ["kelp_blade"])
        sizes, v = np.full(len(model.v), 4), model.v.ravel()
        for number in kelp.FRAMES:
            normals = kelp.sway(number).normals @ np.array([[1, 0, 0], [0, 0, 1], [0, -1, 0]])
            writer.add(
                Fraction(number),
                MeshSample(
                    in_file(number), sizes, v, model.uvs, model.vt.ravel(), normals, v, ("kelp_blade",), 0 * sizes, ()
                ),
            )
        writer.finish()
    return path


def file_of(path: Path, *moves: int, **metadata: str) -> Path:
    points = [np.add(SQUARE, (0, 0, move)) for move in moves]
    path.write_bytes(archive_bytes(lambda writer: add_mesh(writer.top, points=points), **metadata))
    return path


def vertices(path: Path) -> np.ndarray:
    return np.array([line.split()[1:] for line in path.read_text().splitlines() if line.startswith("v ")], np.float64)


def test_the_list(archive: Path) -> None:
    run = meshqc("unpack", archive)
    sides = np.ptp(in_file(1), axis=0)
    longest = sides.max()
    assert run.returncode == 0
    assert run.stdout.splitlines() == [
        "kelp.abc: frames 1-12, 1 mesh, 25 fps (as stated in the file)",
        "the file states no up axis: y is assumed; if z is up, add --from-up z",
        f"size of the first frame: about {' x '.join(f'{side:.4g}' for side in sides)} units",
        f"the file states no unit: the object is {longest:.4g} m long if the unit is metres, "
        f"{longest / 100:.4g} m if it is centimetres",
        "the unit is probably centimetres; state it with --from-unit",
        "  /kelp/kelpShape; 196 faces; moving; material kelp_blade; UV set uv",
        f"to write the frames: meshqc unpack {archive} OUT",
    ]


def test_the_list_for_programs(archive: Path) -> None:
    found = json.loads(meshqc("unpack", archive, "--json").stdout)
    assert found["frames"] == list(range(1, 13))
    assert found["rate"] == {"frames_per_second": 25.0, "source": "file"}
    assert (found["metres_per_unit"], found["up"]) == (None, None)
    (mesh,) = found["meshes"]
    assert (mesh["path"], mesh["faces"], mesh["motion"]) == ("/kelp/kelpShape", 196, "moving")
    assert (mesh["materials"], mesh["uv_sets"]) == (["kelp_blade"], ["uv"])


def test_a_size_mix_up_is_refused_with_the_command_that_sets_it_right(archive: Path, tmp_path: Path) -> None:
    page = tmp_path / "page.html"
    printed = ("--json", "--report", page, "--fail-on", "warning")
    run = meshqc("unpack", archive, tmp_path / "out", "--from-up", "z", *printed)
    assert (run.returncode, (tmp_path / "out").exists()) == (2, False)
    right = next(line for line in run.stderr.splitlines() if line.startswith("To correct the size: "))
    words = shlex.split(right.removeprefix("To correct the size: meshqc "))
    again = meshqc(*words)
    assert (again.returncode, page.exists(), again.stdout[:1]) == (0, True, "{"), again.stderr
    assert words[words.index("--fail-on") + 1] == "warning"
    assert vertices(tmp_path / "out" / "kelp.0001.obj").max() == pytest.approx(1.8, abs=0.05)


def test_a_stated_unit_is_taken_at_its_word(archive: Path, tmp_path: Path) -> None:
    assert meshqc("unpack", archive, tmp_path / "out", "--from-unit", "cm").returncode == 0
    assert vertices(tmp_path / "out" / "kelp.0001.obj").max() > 150


@pytest.mark.parametrize(("size", "refused"), [("1.8", True), ("180", False), ("60", False)])
def test_a_stated_size(archive: Path, tmp_path: Path, size: str, refused: bool) -> None:
    run = meshqc("unpack", archive, tmp_path / "out", "--size", size, "--fail-on", "never")
    assert run.returncode == (2 if refused else 0)
    assert ("--from-unit cm --unit m" in run.stderr) is refused


def test_a_stated_size_is_judged_in_the_list_too(archive: Path) -> None:
    listed = meshqc("unpack", archive, "--size", "1.8").stdout
    assert (
        "180.8 units long, but the stated size is 1.8; the unit is probably wrong; "
        "to correct the size, add --from-unit cm --unit m" in listed
    )
    assert "mix-up" not in meshqc("unpack", archive, "--size", "180").stdout


def test_one_command_gives_a_sequence_that_is_clean(archive: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    run = meshqc("unpack", archive, out, "--from-unit", "cm", "--unit", "m", "--from-up", "z", "--size", "1.8")
    assert run.returncode == 0
    assert "verdict: clean" in run.stdout
    assert "verdict: clean" in meshqc("check", out, "--size", "1.8").stdout
    for number in kelp.FRAMES:
        x, y, z = (in_file(number).astype(np.float64) * 0.01).T
        found = vertices(out / f"kelp.{number:04d}.obj").astype(np.float32)
        assert np.array_equal(found, np.stack([x, z, -y], axis=1).astype(np.float32))
    assert "Frame rate: 25 fps" in (out / "HANDOFF.txt").read_text()
    assert meshqc("verify", out).returncode == 0
    for form, ending in (("usd", "usdc"), ("abc", "abc")):
        assert meshqc("fix", out, "--output", tmp_path / form, "--as", form).returncode == 0
        assert open_animation(tmp_path / form / f"kelp.{ending}").rate == 25
        assert "Frame rate: 25 fps" in (tmp_path / form / "HANDOFF.txt").read_text()


def test_scaled_to_a_size(archive: Path, tmp_path: Path) -> None:
    run = meshqc("unpack", archive, tmp_path / "out", "--scale-to", "3", "--from-up", "z")
    assert run.returncode == 0
    assert np.ptp(vertices(tmp_path / "out" / "kelp.0001.obj"), axis=0).max() == pytest.approx(3, abs=1e-6)
    both = meshqc("unpack", archive, tmp_path / "two", "--scale-to", "3", "--unit", "m", "--from-unit", "cm")
    assert both.returncode == 2


def test_a_unit_needs_what_the_file_is_in(archive: Path, tmp_path: Path) -> None:
    run = meshqc("unpack", archive, tmp_path / "out", "--unit", "m")
    assert (run.returncode, "--from-unit" in run.stderr) == (2, True)


def two_meshes(writer: ArchiveWriter) -> None:
    reef = writer.top.child("reef", XFORM)
    add_mesh(reef, "kelp", points=[np.add(SQUARE, n) for n in range(3)])
    add_mesh(reef, "jelly", points=[np.add(SQUARE, 5)])
    hidden = add_mesh(reef, "buoy")
    show(hidden.node, 0)


def test_meshes_by_pattern_and_apart(tmp_path: Path) -> None:
    path = tmp_path / "reef.abc"
    path.write_bytes(archive_bytes(two_meshes))
    assert "note: left out: hidden meshes (1 of 3)" in meshqc("unpack", path).stdout
    meshqc("unpack", path, tmp_path / "one", "--mesh", "*/kel*")
    assert "o reef/kelp\n" in (tmp_path / "one" / "reef.0001.obj").read_text()
    assert "jelly" not in (tmp_path / "one" / "reef.0001.obj").read_text()
    meshqc("unpack", path, tmp_path / "all")
    assert len(vertices(tmp_path / "all" / "reef.0003.obj")) == 8
    meshqc("unpack", path, tmp_path / "apart", "--split")
    names = sorted(one.name for one in (tmp_path / "apart").glob("*.obj"))
    assert names == [f"reef_{mesh}.{number:04d}.obj" for mesh in ("jelly", "kelp") for number in (1, 2, 3)]
    assert meshqc("unpack", path, tmp_path / "none", "--mesh", "*/manta").returncode == 2


def test_samples_between_frames(tmp_path: Path) -> None:
    path = tmp_path / "kelp.abc"
    halves = TimeSampling(1 / 48, (1 / 24,), 0)
    points = [np.add(SQUARE, (0, 0, n)) for n in range(5)]
    data = archive_bytes(lambda writer: add_mesh(writer.top, points=points), [halves], FramesPerTimeUnit="24")
    path.write_bytes(data)
    assert "2 sub-frames: left out unless you add --sub-frames" in meshqc("unpack", path).stdout
    meshqc("unpack", path, tmp_path / "whole")
    assert sorted(one.name for one in (tmp_path / "whole").glob("*.obj")) == [f"kelp.000{n}.obj" for n in (1, 2, 3)]
    (lost,) = json.loads((tmp_path / "whole" / "meshqc-receipt.json").read_text())["left_out"]
    assert lost == {"what": "samples between whole frames (2); --sub-frames includes them", "seen": False, "frames": 3}
    meshqc("unpack", path, tmp_path / "parts", "--sub-frames")
    assert not json.loads((tmp_path / "parts" / "meshqc-receipt.json").read_text())["left_out"]
    assert vertices(tmp_path / "parts" / "kelp.0002.5.obj")[0, 2] == 3


def on_twos(writer: ArchiveWriter) -> None:
    mesh = add_mesh(writer.top, points=[SQUARE, np.add(SQUARE, (0, 0, 2))], sampling=2)
    show(mesh.node, 1, -1, 1)


def test_frames_between_samples_are_refused_or_blended(tmp_path: Path) -> None:
    path = tmp_path / "kelp.abc"
    samplings = [TimeSampling(1 / 24, (1 / 24,), 0), TimeSampling(2 / 24, (1 / 24,), 0)]
    path.write_bytes(archive_bytes(on_twos, samplings, FramesPerTimeUnit="24"))
    run = meshqc("unpack", path, tmp_path / "out")
    assert (run.returncode, "--blend" in run.stderr, "frame 2" in run.stderr) == (2, True, True)
    meshqc("unpack", path, tmp_path / "out", "--blend")
    assert [vertices(tmp_path / "out" / f"kelp.000{n}.obj")[0, 2] for n in (1, 2, 3)] == [0, 1, 2]
    meshqc("unpack", path, tmp_path / "twos", "--step", "2")
    assert sorted(one.name for one in (tmp_path / "twos").glob("*.obj")) == ["kelp.0001.obj", "kelp.0003.obj"]


def test_a_damaged_frame_is_left_out_and_reported(tmp_path: Path) -> None:
    broken = np.array(SQUARE, np.float32)
    broken[1, 1] = np.nan
    path = tmp_path / "kelp.abc"
    points = [SQUARE, broken, np.add(SQUARE, 2)]
    path.write_bytes(archive_bytes(lambda writer: add_mesh(writer.top, points=points)))
    run = meshqc("unpack", path, tmp_path / "out", "--fail-on", "never")
    assert run.returncode == 1
    assert "frame 2 was left out: the file breaks the rules of its format: /kelp: 1 of 4 points is not" in run.stderr
    assert not (tmp_path / "out" / "kelp.0002.obj").exists()


def test_one_damaged_mesh_does_not_refuse_the_others(tmp_path: Path) -> None:
    broken = np.array(SQUARE, np.float32)
    broken[1, 1] = np.nan

    def fill(writer: ArchiveWriter) -> None:
        add_mesh(writer.top, points=[SQUARE, np.add(SQUARE, 1), np.add(SQUARE, 2)])
        add_mesh(writer.top, "bell", points=[np.add(SQUARE, 5), broken, np.add(SQUARE, 7)])

    path = tmp_path / "kelp.abc"
    path.write_bytes(archive_bytes(fill))
    run = meshqc("unpack", path, tmp_path / "out", "--fail-on", "never")
    said = "warning: left out of frame 2: /bell: 1 of 4 points is not finite"
    assert said in run.stderr
    assert said in (tmp_path / "out" / "HANDOFF.txt").read_text()
    assert "no frame" not in run.stderr
    assert [len(vertices(tmp_path / "out" / f"kelp.000{n}.obj")) for n in (1, 2, 3)] == [8, 4, 8]
    np.testing.assert_array_equal(vertices(tmp_path / "out" / "kelp.0002.obj"), np.add(SQUARE, 1))
    (loss,) = json.loads((tmp_path / "out" / "meshqc-receipt.json").read_text())["left_out"]
    assert ("/bell" in loss["what"], loss["seen"], loss["frames"]) == (True, True, 1)
    # The left-out mesh is a finding of that frame, now and in later checks.
    assert re.search(r"W warning left-out, frame 2\n +left out: /bell: 1 of 4 points", run.stdout)
    later = json.loads(meshqc("check", tmp_path / "out", "--json").stdout)["sequences"][0]["findings"]
    assert [one["frames"] for one in later if one["check"] == "left-out"] == [[2]]


def test_the_rate_that_the_user_states(tmp_path: Path) -> None:
    path = file_of(tmp_path / "kelp.abc", 0, 1, 2, FramesPerTimeUnit="48")
    assert "frames 2-6, 1 mesh, 48 fps (as stated in the file)" in meshqc("unpack", path).stdout
    assert "frames 1-3, 1 mesh, 24 fps (as stated with --fps)" in meshqc("unpack", path, "--fps", "24").stdout


def test_check_lists_the_file_and_names_the_command(archive: Path) -> None:
    run = meshqc("check", archive.parent)
    text = " ".join(run.stdout.split())
    assert "kelp.abc (1 file): a whole animation: `meshqc unpack` writes its frames (frames 1-12, 1 mesh)" in text
    assert run.stderr.endswith(f"to list the contents of an animation file in this folder: meshqc unpack {archive}\n")


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"\x89HDF\r\n\x1a\n" + bytes(100), "export it again with the Ogawa container"),
        (b"Ogawa\0\0\1" + bytes(100), "still running"),
        (b"version https://git-lfs.github.com/spec/v1\n", "fetch the actual file"),
        (b"", "empty"),
    ],
)
def test_files_that_are_no_finished_archive(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "kelp.abc"
    path.write_bytes(data)
    run = meshqc("unpack", path)
    assert (run.returncode, said in run.stderr) == (2, True)


def test_the_description_of_the_archive_is_in_no_report(tmp_path: Path) -> None:
    path = file_of(tmp_path / "kelp.abc", 0, 1, 2, _ai_Description="/home/somebody/secret.scene")
    out = tmp_path / "out"
    runs = [meshqc("unpack", path), meshqc("unpack", path, "--json"), meshqc("unpack", path, out)]
    texts = [run.stdout + run.stderr for run in runs] + [one.read_text() for one in out.iterdir()]
    assert not [text for text in texts if "somebody" in text]


def test_uv_sets_by_name(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        geometry = add_mesh(writer.top, points=[SQUARE, np.add(SQUARE, 1)]).geometry
        put(geometry.array("uv", "f4", 2, {"geoScope": "vtx", "sourceName": "dry"}), [np.zeros((4, 2))])
        more = geometry.compound(".arbGeomParams")
        put(more.array("wet", "f4", 2, {"geoScope": "vtx", "interpretation": "vector"}), [np.ones((4, 2))])

    path = tmp_path / "kelp.abc"
    path.write_bytes(archive_bytes(fill))
    assert "UV set: dry (the main UV set); choose another with --uv-set NAME" in meshqc("unpack", path).stdout
    meshqc("unpack", path, tmp_path / "out", "--uv-set", "wet")
    assert "vt 1 1\n" in (tmp_path / "out" / "kelp.0001.obj").read_text()
    assert meshqc("unpack", path, tmp_path / "no", "--uv-set", "damp").returncode == 2
