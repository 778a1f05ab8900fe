"""Tests of meshes that are written frame by frame, and read back by the tool and by Alembic's reference library."""

from __future__ import annotations

import importlib.util
import io
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.alembic.mesh import MeshSample
from inspector.formats.alembic.mesh_out import ArchiveAnimationWriter, MeshWriter
from inspector.formats.alembic.scene import ArchiveScene, clock_of, frames_of
from inspector.formats.animation import Brief
from inspector.formats.frame import ABSENT
from inspector.formats.mesh import Mesh, Part, corners_of
from inspector.names import Name
from tests.helpers import alembic_binding
from tests.helpers.alembic import CUBE, CUBE_FACES, archive_at, volume

RATE = Fraction(25)
FRAMES = tuple(Fraction(number) for number in (1001, 1002, 1003, 1004))


def cube(shift: float = 0.0, *, uvs: bool = True, faces: int = 6, materials: tuple[str, ...] = ("skin", "wet")) -> Any:
    corners = np.concatenate(CUBE_FACES[:faces])
    none = np.zeros((0, 0), np.float32)
    return MeshSample(
        points=np.array(CUBE, np.float64) + shift / 3,
        sizes=np.full(faces, 4),
        v=corners,
        uvs=np.arange(10.0).reshape(5, 2) / 7 if uvs else none,
        vt=np.arange(4 * faces) % 5 if uvs else None,
        normals=np.eye(3) + 0.25,
        vn=np.repeat(np.arange(faces) % 3, 4),
        materials=materials,
        material_of=np.array([0, 1, 0, 0, 1, 0])[:faces],
        notes=(),
    )


def written(tmp_path: Path, samples: list[Any], frames: tuple[Fraction, ...] = FRAMES) -> Path:
    file = io.BytesIO()
    writer = MeshWriter(file, "kelp", RATE, frames[: len(samples)], samples[0].materials)
    for frame, sample in zip(frames, samples, strict=False):
        writer.add(frame, sample)
    writer.finish()
    path = tmp_path / "kelp.abc"
    path.write_bytes(file.getvalue())
    return path


def opened(path: Path) -> ArchiveScene:
    return ArchiveScene(archive_at(path, path.read_bytes()))


def same(ours: MeshSample, theirs: MeshSample) -> None:
    assert np.array_equal(ours.points, theirs.points.astype(np.float32))
    assert np.array_equal(ours.sizes, theirs.sizes)
    assert np.array_equal(ours.v, theirs.v)
    for values, index, back, back_index in (
        (theirs.uvs, theirs.vt, ours.uvs, ours.vt),
        (theirs.normals, theirs.vn, ours.normals, ours.vn),
    ):
        assert (index is None) == (back_index is None)
        if index is not None and back_index is not None:
            assert np.array_equal(back[back_index], values.astype(np.float32)[index])
    names = [("", *theirs.materials)[number + 1] for number in theirs.material_of.tolist()]
    assert [("", *ours.materials)[number + 1] for number in ours.material_of.tolist()] == names


@pytest.mark.parametrize(
    "samples",
    [
        [cube(number) for number in range(4)],
        [cube(0)] * 3,
        [cube(0)],
        [cube(0), cube(1, faces=4), cube(1, faces=4), cube(0)],
        [replace(cube(n, uvs=False, materials=()), material_of=np.full(6, -1)) for n in range(2)],
        [replace(cube(0), material_of=np.array([n, -1, -1, 0, 1, 1])) for n in range(2)],
        [replace(cube(0), points=np.zeros((0, 3)), sizes=np.zeros(0, int), v=np.zeros(0, int), vt=None, vn=None,
                 material_of=np.zeros(0, int))],
    ],
)  # fmt: skip
def test_frames_read_back(tmp_path: Path, samples: list[Any]) -> None:
    path = written(tmp_path, samples)
    scene = opened(path)
    clock = clock_of(scene)
    assert (clock.rate, clock.source) == (25, "file")
    assert [mesh.path for mesh in scene.meshes] == ["/kelp/kelpShape"]
    assert scene.archive.problems == []
    expected = FRAMES[: len(samples)]
    assert frames_of(scene, clock) == (expected, ())
    for frame, sample in zip(expected, samples, strict=True):
        seconds = clock.seconds(frame)
        if len(sample.sizes):
            same(scene.meshes[0].sample(seconds), sample)
        assert np.array_equal(scene.meshes[0].placement.world(seconds), np.eye(4))


def test_the_stored_faces_are_clockwise(tmp_path: Path) -> None:
    reader = opened(written(tmp_path, [cube()])).meshes[0].reader
    stored = next(one for one in reader.properties if one.header.name == ".faceIndices").numbers(0).reshape(-1, 4)
    assert volume(CUBE, stored.tolist()) == pytest.approx(-1)


def test_what_stands_still_is_stored_once(tmp_path: Path) -> None:
    one = written(tmp_path, [cube()]).stat().st_size
    two = written(tmp_path, [cube(0), cube(1)]).stat().st_size
    points, boxes = 8 * 12 + 24, 2 * (48 + 24)
    assert two - one < points + 2 * boxes + 200


def test_frames_with_gaps_and_steps(tmp_path: Path) -> None:
    gaps = tuple(Fraction(number) for number in (1, 2, 5, 6))
    scene = opened(written(tmp_path, [cube(number) for number in range(4)], gaps))
    assert frames_of(scene, clock_of(scene)) == (gaps, ())
    steps = tuple(Fraction(number) for number in (2, 4, 6, 8))
    scene = opened(written(tmp_path, [cube(number) for number in range(4)], steps))
    assert frames_of(scene, clock_of(scene)) == (steps, ())
    parts = (Fraction(1), Fraction(5, 4), Fraction(2))
    scene = opened(written(tmp_path, [cube(number) for number in range(3)], parts))
    assert frames_of(scene, clock_of(scene)) == ((1, 2), (Fraction(5, 4),))


@pytest.mark.skipif(importlib.util.find_spec("alembic3d") is None, reason="alembic3d has no wheel for this machine")
def test_the_binding_reads_the_colours_of_points(tmp_path: Path) -> None:
    colours = np.arange(24.0).reshape(8, 3) / 69
    path = tmp_path / "kelp.abc"
    with path.open("xb") as file:
        writer = MeshWriter(file, "kelp", RATE, FRAMES[:1], ("skin", "wet"), colours=True)
        writer.add(FRAMES[0], replace(cube(), colours=colours))
        writer.finish()
    mesh = alembic_binding.read([path])[0]["/kelp/kelpShape"]
    found = mesh["properties"][".geom"][".arbGeomParams"]["Cs"]
    assert np.array_equal(found["values"][0], colours.astype(np.float32))
    assert "interpretation=rgb" in found["metadata"]
    assert np.array_equal(opened(path).meshes[0].reader.sample(1001 / 25).colours, colours.astype(np.float32))


def test_names_that_no_object_may_have(tmp_path: Path) -> None:
    path = written(tmp_path, [cube(materials=("a/b", "a_b"))])
    assert opened(path).meshes[0].reader.materials == ("a_b", "a_b_2")


def test_what_the_format_cannot_hold_is_refused(tmp_path: Path) -> None:
    some = replace(cube(), vt=np.array([-1, *range(23)]) % 5 - 1)
    with pytest.raises(Refusal, match=r"frame 1001\.5: only some corners have UVs"):
        written(tmp_path, [some], (Fraction(2003, 2),))
    with pytest.raises(Refusal, match=r"only some frames have UVs or normals \(frame 1002 differs from other frames\)"):
        written(tmp_path, [cube(), cube(uvs=False)])


def test_faces_without_normals_get_their_own_where_others_have_some(tmp_path: Path) -> None:
    # The normal of a square in the plane z = 0 is (0, 0, 1) if the square is counter-clockwise from above.
    points = np.array([(0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)], np.float32)
    vn = np.array([0, 0, 0, ABSENT, ABSENT, ABSENT])
    corners = corners_of(np.array([0, 3, 6]), np.array([0, 1, 2, 0, 2, 3]), vn=vn)
    mesh = Mesh(points, corners, normals=np.array([(1.0, 0, 0)]), parts=(Part(0, 2),))
    path = tmp_path / "kelp.abc"
    writer = ArchiveAnimationWriter(path, Brief(Name(b"kelp"), (Fraction(1),), (), Fraction(25), None, normals=True))
    writer.add(Fraction(1), mesh)
    writer.save()
    sample = opened(path).meshes[0].reader.sample(1 / 25)
    assert sample.normals[sample.vn].tolist() == [[1, 0, 0]] * 3 + [[0, 0, 1]] * 3


@pytest.mark.skipif(importlib.util.find_spec("alembic3d") is None, reason="alembic3d has no wheel for this machine")
def test_the_binding_reads_the_same(tmp_path: Path) -> None:
    samples = [cube(0), cube(1), cube(1, faces=4), cube(2)]
    theirs = alembic_binding.read([written(tmp_path, samples)])[0]
    mesh = theirs["/kelp/kelpShape"]
    geometry = mesh["properties"][".geom"]
    assert mesh["face sets"] == ["skin", "wet"]
    assert mesh["topology"] == "kHeterogenousTopology"
    assert geometry["P"]["times"] == [float(frame / 25) for frame in FRAMES]
    for index, sample in enumerate(samples):
        assert np.array_equal(geometry["P"]["values"][index], sample.points.astype(np.float32))
        faces = len(sample.sizes)
        stored = np.array(geometry[".faceIndices"]["values"][index]).reshape(faces, 4)
        assert np.array_equal(stored[:, [0, 3, 2, 1]].ravel(), sample.v)
        for name, values, slots in (("uv", sample.uvs, sample.vt), ("N", sample.normals, sample.vn)):
            expanded, scope = mesh[name][index]
            turned = np.asarray(expanded).reshape(faces, 4, -1)[:, [0, 3, 2, 1]].reshape(4 * faces, -1)
            assert np.array_equal(turned, values.astype(np.float32)[slots])
            assert scope == "kFacevaryingScope"
        box = theirs["/"]["properties"][".childBnds"]["values"][index]
        assert box == [*sample.points.min(axis=0).astype(np.float32), *sample.points.max(axis=0).astype(np.float32)]
    skin = theirs["/kelp/kelpShape/skin"]["properties"][".faceset"][".faces"]["values"]
    assert [list(map(int, np.ravel(one))) for one in skin] == [[0, 2, 3, 5], [0, 2, 3, 5], [0, 2, 3], [0, 2, 3, 5]]
