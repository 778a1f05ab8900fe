"""Tests of malformed archives.

Sources: the layout that Alembic's reference library uses, and a list of 25 cases that were tried with that library.
"""

from __future__ import annotations

import io
import os
import struct
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.formats.alembic import archive as archives
from inspector.formats.alembic import scene as scenes
from inspector.formats.alembic.archive import Archive
from inspector.formats.alembic.mesh import MeshReader
from inspector.formats.alembic.ogawa import DATA, ArchiveError
from inspector.formats.alembic.scene import ArchiveScene, clock_of, frames_of
from inspector.formats.alembic.times import ACYCLIC, TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter, CompoundOut, ObjectOut
from tests.helpers.alembic import (
    EXAMPLE,
    SQUARE,
    XFORM,
    add_face_set,
    add_mesh,
    add_xform,
    archive_at,
    archive_bytes,
    put,
    scene_at,
)

FIRST, SECOND = 1 / 24, 2 / 24

# Offsets in the example.
BOUNDS_GROUP, P1_SIZE, P_GROUP, COUNTS_GROUP = 0x58, 0xB0, 0xF8, 0x17C
HEADERS_SIZE, P_HEADER, GEOM_GROUP, Q_PROPERTIES, Q, TOP = 0x1E4, 0x1FB, 0x231, 0x27B, 0x2BB, 0x301
VERSION, LIBRARY, TIMES, ROOT = 0x329, 0x335, 0x35D, 0x44C


def patched(*changes: tuple[int, bytes]) -> bytes:
    data = bytearray(EXAMPLE)
    for at, new in changes:
        data[at : at + len(new)] = new
    return bytes(data)


def u64(value: int) -> bytes:
    return struct.pack("<Q", value)


def refused(tmp_path: Path, data: bytes) -> str:
    try:
        scene = ArchiveScene(archive_at(tmp_path / "kelp.abc", data))
        frames_of(scene, clock_of(scene))
    except ArchiveError as error:
        return str(error)
    return ""


def scene_of(tmp_path: Path, data: bytes) -> ArchiveScene:
    return ArchiveScene(archive_at(tmp_path / "kelp.abc", data))


# 1 to 6: the file as a whole


def test_1_the_old_kind_of_file(tmp_path: Path) -> None:
    assert "export it again with the Ogawa container" in refused(tmp_path, b"\x89HDF\r\n\x1a\n" + bytes(500))


@pytest.mark.parametrize(
    ("data", "cause"),
    [
        (b"version https://git-lfs.github.com/spec/v1\noid sha256:0\n", "pointer"),
        (b"v 0 0 0\nv 1 0 0\n", "not an Alembic archive"),
        (b"", "empty"),
        (EXAMPLE[:15], "cut off"),
    ],
)
def test_2_another_file(tmp_path: Path, data: bytes, cause: str) -> None:
    assert cause in refused(tmp_path, data)


@pytest.mark.parametrize("flag", [0, 1, 0x7F])
def test_3_an_unfinished_file(tmp_path: Path, flag: int) -> None:
    assert "still running" in refused(tmp_path, patched((5, bytes([flag]))))


@pytest.mark.parametrize(
    "change", [(6, b"\0\2"), (6, b"\1\0"), (VERSION, b"\1\0\0\0"), (LIBRARY, struct.pack("<i", 9998))]
)
def test_4_versions(tmp_path: Path, change: tuple[int, bytes]) -> None:
    assert "version" in refused(tmp_path, patched(change))


def test_4_the_oldest_version_is_read(tmp_path: Path) -> None:
    assert scene_of(tmp_path, patched((LIBRARY, struct.pack("<i", 9999)))).meshes


@pytest.mark.parametrize("root", [0, 15, len(EXAMPLE) - 7, len(EXAMPLE), 1 << 62, (1 << 64) - 1])
def test_5_a_root_outside_the_file(tmp_path: Path, root: int) -> None:
    assert "cut off" in refused(tmp_path, patched((8, u64(root))))


@pytest.mark.parametrize("size", [16, 17, 500, ROOT, ROOT + 8, len(EXAMPLE) - 1])
def test_5_a_file_that_is_cut(tmp_path: Path, size: int) -> None:
    assert refused(tmp_path, EXAMPLE[:size])


@pytest.mark.parametrize(
    "change", [(ROOT, u64(5)), (ROOT + 8 * 3, u64(DATA)), (ROOT + 8, u64(0)), (ROOT + 8 * 5, u64(TOP))]
)
def test_6_another_root(tmp_path: Path, change: tuple[int, bytes]) -> None:
    assert "root" in refused(tmp_path, patched(change))


# 7 to 11: groups and blocks


@pytest.mark.parametrize("count", [0, 200, 1 << 40, (1 << 64) - 1])
def test_7_children_that_the_file_cannot_hold(tmp_path: Path, count: int) -> None:
    assert "a group has an impossible number of children" in refused(tmp_path, patched((ROOT, u64(count))))
    for group in (Q, Q_PROPERTIES, GEOM_GROUP):
        scene = scene_of(tmp_path, patched((group, u64(count))))
        assert (len(scene.meshes), len(scene.archive.problems)) == (0, 1)
        assert "/q: " in scene.archive.problems[0]
    bounds = scene_of(tmp_path, patched((BOUNDS_GROUP, u64(count))))
    assert bounds.meshes[0].reader.bounds(0.0) is None
    assert len(bounds.meshes[0].sample(FIRST).points) == 4


@pytest.mark.parametrize("size", [2000, 1 << 40, (1 << 64) - 1])
def test_8_a_block_that_the_file_cannot_hold(tmp_path: Path, size: int) -> None:
    mesh = scene_of(tmp_path, patched((P1_SIZE, u64(size)))).meshes[0]
    assert len(mesh.sample(FIRST).points) == 4
    with pytest.raises(ArchiveError, match="bytes extends beyond the end of the file"):
        mesh.sample(SECOND)


@pytest.mark.parametrize("target", [Q, TOP])
def test_9_an_object_inside_itself(tmp_path: Path, target: int) -> None:
    # The properties of `q` refer to a group that was an object before.
    scene = scene_of(tmp_path, patched((Q + 8, u64(target))))
    assert (scene.meshes, len(scene.archive.problems)) == ((), 1)
    assert "may refer back to itself" in scene.archive.problems[0]


def test_9_one_object_in_two_places(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        add_mesh(writer.top, "a")
        add_mesh(writer.top, "b")

    data = bytearray(archive_bytes(fill))
    root = int.from_bytes(data[8:16], "little")
    top = int.from_bytes(data[root + 24 : root + 32], "little")
    data[top + 24 : top + 32] = data[top + 16 : top + 24]
    scene = scene_of(tmp_path, bytes(data))
    assert [mesh.path for mesh in scene.meshes] == ["/a"]
    assert scene.archive.problems == ["/b: the group is used twice, so the file may refer back to itself"]


class Deep(ObjectOut):
    """An object with a chain of `depth` objects below it. The chain is written in a loop, from the bottom up,
    because a long chain is too deep for recursion."""

    def __init__(self, archive: ArchiveWriter, depth: int) -> None:
        super().__init__(archive, "d", {})
        self._writer, self._depth = archive, depth

    def finish(self) -> int:
        word = self._writer.group([0, self._writer.block(bytes(32))])
        headers = self._writer.block(struct.pack("<I", 1) + b"d\0", bytes(32))
        for _ in range(self._depth):
            word = self._writer.group([0, word, headers])
        return word


def test_10_objects_nested_100_000_deep(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        add_mesh(writer.top)
        writer.top.children.append(Deep(writer, 100_000))

    scene = scene_at(tmp_path / "deep.abc", fill)
    assert [mesh.path for mesh in scene.meshes] == ["/kelp"]
    assert "nested more than" in scene.archive.problems[0]


@pytest.mark.parametrize(("below", "problems"), [(511, 0), (512, 1)])
def test_10_objects_nested_512_deep(below: int, problems: int, tmp_path: Path) -> None:
    """The first object is at depth 1. The path of the deepest object has the maximum length, 1,024 characters."""
    scene = scene_at(tmp_path / "deep.abc", lambda writer: writer.top.children.append(Deep(writer, below)))
    assert ["nested more than 512" in problem for problem in scene.archive.problems] == [True] * problems


def test_11_groups_that_share_millions_of_headers(tmp_path: Path) -> None:
    writer_file = io.BytesIO()
    writer = ArchiveWriter(writer_file, {})
    many = 20_000
    headers = writer.block(b"".join(struct.pack("<I", 5) + b"%05d\0" % number for number in range(many)), bytes(32))
    leaf = writer.group([0, writer.block(bytes(32))])
    # Each of these groups contains the leaf and uses the same 200 KB of headers.
    shared = [writer.group([0, leaf, headers]) for _ in range(many)]

    class Top(ObjectOut):
        def finish(self) -> int:
            return writer.group([0, *shared, headers])

    writer.top = Top(writer, "", {})
    writer.finish()
    assert "same groups or headers too often" in refused(tmp_path, writer_file.getvalue())


def test_11_more_objects_than_any_scene_has(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(archives, "MAX_OBJECTS", 500)

    def fill(count: int) -> bytes:
        return archive_bytes(lambda writer: [writer.top.child(f"kelp{number}", {}) for number in range(count)])

    assert "more than 500 objects" in refused(tmp_path, fill(501))
    assert refused(tmp_path, fill(500)) == ""


# 12 to 15: headers


@pytest.mark.parametrize("name", ["a/b", "a\0b"])
def test_12_names_that_no_object_may_have(tmp_path: Path, name: str) -> None:
    scene = scene_at(tmp_path / "kelp.abc", lambda writer: [add_mesh(writer.top, name), add_mesh(writer.top, "jelly")])
    assert [mesh.path for mesh in scene.meshes] == ["/jelly"]
    assert len(scene.archive.problems) == 1
    assert "\0" not in scene.archive.problems[0]


def test_12_the_same_name_twice(tmp_path: Path) -> None:
    scene = scene_at(tmp_path / "kelp.abc", lambda writer: [add_mesh(writer.top), add_mesh(writer.top)])
    assert [mesh.path for mesh in scene.meshes] == ["/kelp"]
    assert scene.archive.problems == ["/kelp: another object has the same path"]


@pytest.mark.parametrize(("length", "cause"), [(0, "no name"), (1000, "cut off"), ((1 << 32) - 1, "cut off")])
def test_12_lengths_of_names(tmp_path: Path, length: int, cause: str) -> None:
    scene = scene_of(tmp_path, patched((0x2DB, struct.pack("<I", length))))
    assert scene.meshes == ()
    assert cause in scene.archive.problems[0]


def test_12_the_length_of_a_property_name(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, patched((P_HEADER + 6, b"\0")))
    assert scene.meshes == ()
    assert "no name" in scene.archive.problems[0]


def test_13_more_headers_than_children(tmp_path: Path) -> None:
    # There are five properties and four children: the group of `uv` is removed, and the count becomes wrong.
    words = [EXAMPLE[GEOM_GROUP + 8 * number : GEOM_GROUP + 8 * number + 8] for number in range(1, 7)]
    scene = scene_of(tmp_path, patched((GEOM_GROUP, u64(5)), (GEOM_GROUP + 8 * 5, words[5])))
    mesh = scene.meshes[0].sample(FIRST)
    assert (len(mesh.points), mesh.vt) == (4, None)
    assert scene.meshes[0].reader.faults == ("the headers list more properties than the file stores",)


def test_13_a_block_where_a_group_belongs(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, patched((GEOM_GROUP + 16, u64(DATA | P1_SIZE))))
    assert "a block of data is stored where a group is expected" in scene.archive.problems[0]
    object_ = scene_of(tmp_path, patched((TOP + 16, u64(DATA | P1_SIZE))))
    assert "a block of data is stored where a group is expected" in object_.archive.problems[0]


def test_14_metadata_that_does_not_exist(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, patched((0x2E0, b"\x63")))
    assert scene.archive.problems == ["/q: its metadata is missing"]
    points = scene_of(tmp_path, patched((P_HEADER, struct.pack("<I", 0x063031A2))))
    assert "P: its metadata is missing" in points.archive.problems[0]


def test_14_times_that_do_not_exist(tmp_path: Path) -> None:
    scene = scene_of(tmp_path, patched((P_HEADER + 5, b"\7")))
    assert "time sampling 7 does not exist" in scene.archive.problems[0]


@pytest.mark.parametrize(
    ("info", "cause"),
    [(0x002031AE, "unknown width"), (0x002031E2, "type 14"), (0x002001A2, "have no values")],
)
def test_15_headers_that_no_writer_makes(tmp_path: Path, info: int, cause: str) -> None:
    scene = scene_of(tmp_path, patched((P_HEADER, struct.pack("<I", info))))
    assert scene.meshes == ()
    assert cause in scene.archive.problems[0]


# 16 to 20: samples and times


def with_samples(samples: int, first: int | None = None, last: int | None = None, constant: bool = False) -> bytes:
    """Return the example with a different header for the property P. Each number in this header has four bytes.

    Args:
        samples: Number of samples.
        first: Index of the first sample that differs from the previous sample. None to state no index.
        last: Index of the last sample that differs from the previous sample. None to state no index.
        constant: Whether the header states that all samples are equal.
    """
    numbers = [samples, *([] if first is None or last is None else [first, last]), 1, 1]
    info = 0x002030AA | 0x100 | (0x200 if first is not None else 0) | (0x800 if constant else 0)
    header = struct.pack(f"<I{len(numbers)}I", info, *numbers) + b"P"
    block = EXAMPLE[HEADERS_SIZE + 8 : P_HEADER] + header + EXAMPLE[P_HEADER + 8 : GEOM_GROUP]
    data = bytearray(EXAMPLE) + struct.pack("<Q", len(block)) + block
    data[GEOM_GROUP + 8 * 6 : GEOM_GROUP + 8 * 7] = u64(DATA | len(EXAMPLE))
    return bytes(data)


def test_16_four_billion_samples(tmp_path: Path) -> None:
    many = (1 << 32) - 1
    constant = scene_of(tmp_path, with_samples(many, constant=True))
    assert constant.meshes[0].reader.topology == "constant"
    assert len(constant.meshes[0].sample(1e6).points) == 4
    assert len(frames_of(constant, clock_of(constant))[0]) == 2
    claimed = scene_of(tmp_path, with_samples(many)).meshes[0]
    assert claimed.sample(SECOND).points[0, 2] == 0.5
    with pytest.raises(ArchiveError, match="P: sample 3 is missing"):
        claimed.sample(SECOND + FIRST)


def test_17_first_after_last(tmp_path: Path) -> None:
    mesh = scene_of(tmp_path, with_samples(5, 3, 1)).meshes[0]
    with pytest.raises(ArchiveError, match="first changed sample comes after the last changed sample"):
        mesh.sample(FIRST)


def test_17_fewer_samples_than_claimed(tmp_path: Path) -> None:
    mesh = scene_of(tmp_path, with_samples(4, 1, 3)).meshes[0]
    assert mesh.sample(SECOND).points[0, 2] == 0.5
    with pytest.raises(ArchiveError, match="P: sample 3 is missing"):
        mesh.sample(3 / 24)


@pytest.mark.parametrize(
    ("size", "cause"), [(1, "smaller than its key"), (15, "smaller than its key"), (63, "middle of an item")]
)
def test_18_sizes_that_no_sample_has(tmp_path: Path, size: int, cause: str) -> None:
    mesh = scene_of(tmp_path, patched((P1_SIZE, u64(size)))).meshes[0]
    assert len(mesh.sample(FIRST).points) == 4
    with pytest.raises(ArchiveError, match=cause):
        mesh.sample(SECOND)


def test_18_a_scalar_of_another_size(tmp_path: Path) -> None:
    mesh = scene_of(tmp_path, patched((0x10, u64(63)))).meshes[0]
    assert mesh.reader.bounds(0.0) is None


@pytest.mark.parametrize(
    "sampling",
    [
        TimeSampling(float("nan"), (0.0,), 1),
        TimeSampling(float("inf"), (0.0,), 1),
        TimeSampling(0.0, (0.0,), 1),
        TimeSampling(-1.0, (0.0,), 1),
        TimeSampling(1.0, (float("nan"),), 1),
        TimeSampling(ACYCLIC, (1.0, 1.0), 1),
        TimeSampling(ACYCLIC, (2.0, 1.0), 1),
        TimeSampling(0.5, (0.0, 0.6), 1),
        TimeSampling(1.0, (), 1),
    ],
)
def test_19_times_that_do_not_rise(tmp_path: Path, sampling: TimeSampling) -> None:
    assert refused(tmp_path, archive_bytes(lambda writer: add_mesh(writer.top), [sampling]))


def test_19_a_cycle_as_long_as_its_period_is_read(tmp_path: Path) -> None:
    assert scene_at(tmp_path / "kelp.abc", lambda writer: add_mesh(writer.top), [TimeSampling(0.5, (0.0, 0.5), 1)])


def test_19_a_list_of_times_that_is_cut(tmp_path: Path) -> None:
    assert "time samplings" in refused(tmp_path, patched((0x355, u64(39))))


def test_20_samples_without_a_time(tmp_path: Path) -> None:
    scene = scene_at(
        tmp_path / "kelp.abc",
        lambda writer: add_mesh(writer.top, points=[np.add(SQUARE, number) for number in range(3)]),
        [TimeSampling(ACYCLIC, (FIRST, SECOND), 2)],
    )
    assert len(frames_of(scene, clock_of(scene))[0]) == 2
    with pytest.raises(ArchiveError, match="sample 3 has no time: the file lists only 2 sample times"):
        scene.meshes[0].sample(FIRST)


# 21 to 25: geometry and transforms


def mesh_with(tmp_path: Path, counts: list[int], indices: list[int], points: Any = SQUARE) -> Any:
    def fill(writer: ArchiveWriter) -> None:
        mesh = writer.top.child("kelp", {"schema": "AbcGeom_PolyMesh_v1"})
        geometry = mesh.properties.compound(".geom")
        put(geometry.array("P", "f4", 3), [np.array(points, np.float32)])
        put(geometry.array(".faceCounts", "i4"), [np.array(counts, np.int32)])
        put(geometry.array(".faceIndices", "i4"), [np.array(indices, np.int32)])

    return scene_at(tmp_path / "kelp.abc", fill).meshes[0]


@pytest.mark.parametrize("index", [-1, 4, 2**31 - 1, -(2**31)])
def test_21_a_face_with_a_point_that_is_not_there(tmp_path: Path, index: int) -> None:
    with pytest.raises(ArchiveError, match="the mesh has 4 points"):
        mesh_with(tmp_path, [3], [0, 1, index]).sample(0.0)
    assert len(mesh_with(tmp_path, [3], [0, 1, 3]).sample(0.0).v) == 3


@pytest.mark.parametrize(
    ("counts", "cause"),
    [([3, -3, 3], "negative"), ([4], "add up"), ([2], "add up"), ([2**31 - 1] * 3, "add up"), ([], "add up")],
)
def test_22_corners_that_do_not_add_up(tmp_path: Path, counts: list[int], cause: str) -> None:
    with pytest.raises(ArchiveError, match=cause):
        mesh_with(tmp_path, counts, [0, 1, 2]).sample(0.0)


@pytest.mark.parametrize("bad", ["uv", "N"])
@pytest.mark.parametrize("how", ["index", "length"])
def test_23_values_that_do_not_fit_are_left_out(tmp_path: Path, bad: str, how: str) -> None:
    def fill(writer: ArchiveWriter) -> None:
        compound: CompoundOut = add_mesh(writer.top).geometry
        width = 2 if bad == "uv" else 3
        if how == "length":
            put(compound.array(bad, "f4", width, {"geoScope": "fvr"}), [np.zeros((3, width))])
        else:
            inside = compound.compound(bad, {"geoScope": "fvr"})
            put(inside.array(".vals", "f4", width), [np.zeros((4, width))])
            put(inside.array(".indices", "u4"), [np.array([0, 1, 2, 4])])

    mesh = scene_at(tmp_path / "kelp.abc", fill).meshes[0].sample(0.0)
    assert (len(mesh.v), mesh.vt, mesh.vn) == (4, None, None)
    assert len(mesh.notes) == 1
    assert mesh.notes[0].startswith("uv: " if bad == "uv" else "normals: ")


@pytest.mark.parametrize("value", [np.nan, np.inf, -np.inf])
def test_24_points_that_are_not_finite(tmp_path: Path, value: float) -> None:
    moved = np.array(SQUARE, np.float32)
    moved[2, 1] = value
    mesh = scene_at(tmp_path / "kelp.abc", lambda writer: add_mesh(writer.top, points=[SQUARE, moved])).meshes[0]
    assert len(mesh.sample(FIRST).points) == 4
    with pytest.raises(ArchiveError, match="1 of 4 points is not finite"):
        mesh.sample(SECOND)


def test_24_points_whose_sum_is_not_finite_are_sound(tmp_path: Path) -> None:
    large = np.array(SQUARE, np.float64) * 1e308
    large[:, 2] = 1e308

    def fill(writer: ArchiveWriter) -> None:
        geometry = writer.top.child("kelp", {"schema": "AbcGeom_PolyMesh_v1"}).properties.compound(".geom")
        put(geometry.array("P", "f8", 3), [large])
        put(geometry.array(".faceCounts", "i4"), [np.array([4])])
        put(geometry.array(".faceIndices", "i4"), [np.array([0, 1, 2, 3])])

    mesh = scene_at(tmp_path / "kelp.abc", fill).meshes[0]
    assert np.array_equal(mesh.sample(0.0).points, large)


@pytest.mark.parametrize("value", [np.nan, np.inf, 1e308])
def test_24_a_transform_that_is_not_finite(tmp_path: Path, value: float) -> None:
    def fill(writer: ArchiveWriter) -> None:
        sound, broken = [2.0, 2.0, 2.0, 1.0, 1.0, 1.0], [value, 1.0, 1.0, 1e10, 1.0, 1.0]
        add_mesh(add_xform(writer.top, "reef", [0, 0], [sound, broken]))

    mesh = scene_at(tmp_path / "kelp.abc", fill).meshes[0]
    assert mesh.placement.world(FIRST)[0, 0] == 2
    with pytest.raises(ArchiveError, match="not finite"):
        mesh.placement.world(SECOND)


def test_25_transforms_that_cannot_be_followed(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        add_mesh(add_xform(writer.top, "unknown", [7], [[1.0, 1.0, 1.0]]))
        add_mesh(add_xform(writer.top, "short", [3], [[1.0, 1.0, 1.0]]))
        add_mesh(add_xform(writer.top, "sound", [1], [[1.0, 1.0, 1.0]]))

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert [mesh.path for mesh in scene.meshes] == ["/sound/kelp"]
    assert [problem.split(":")[0] for problem in scene.archive.problems] == ["/unknown", "/short"]


def instance(parent: ObjectOut, name: str, source: str) -> ObjectOut:
    node = parent.child(name, {"isInstance": "1"})
    put(node.properties.scalar(".instanceSource", "text"), [source])
    return node


@pytest.mark.parametrize("source", ["/reef/self", "/reef", "/", "/nothing", "", "/reef/kelp/other"])
def test_25_instances_of_nothing_and_of_themselves(tmp_path: Path, source: str) -> None:
    def fill(writer: ArchiveWriter) -> None:
        reef = writer.top.child("reef", XFORM)
        add_mesh(reef)
        instance(reef, "self", source)

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert [mesh.path for mesh in scene.meshes] == ["/reef/kelp"]
    assert len(scene.archive.problems) == 1
    assert "/reef/self: an instance of" in scene.archive.problems[0]


def test_25_instances_that_double_forty_times(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(scenes, "MAX_OBJECTS", 500)

    def fill(writer: ArchiveWriter) -> None:
        before = writer.top.child("level0", XFORM)
        add_mesh(before)
        for level in range(1, 41):
            node = writer.top.child(f"level{level}", XFORM)
            for side in "ab":
                instance(node, side, f"/level{level - 1}")

    data = archive_bytes(fill)
    assert "instances expand to more than" in refused(tmp_path, data)


def test_25_a_face_set_with_faces_that_are_not_there(tmp_path: Path) -> None:
    scene = scene_at(
        tmp_path / "kelp.abc", lambda writer: add_face_set(add_mesh(writer.top).node, "skin", [-5, 0, 7, 2**31 - 1])
    )
    assert scene.meshes[0].sample(FIRST).material_of.tolist() == [0]


# other content of a file


def test_a_layer_over_another_file_is_named(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        geometry = writer.top.child("kelp", {"schema": "AbcGeom_PolyMesh_v1"}).properties.compound(".geom")
        put(geometry.array("P", "f4", 3), [np.array(SQUARE)])

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert scene.meshes == ()
    assert (
        "`.faceCounts`: the file may be only a layer over another file; export the whole scene"
        in (scene.archive.problems[0])
    )


def test_a_failed_compound_keeps_its_cause(tmp_path: Path) -> None:
    archive = archive_at(tmp_path / "kelp.abc", patched((GEOM_GROUP, u64(0))))
    node = archive.by_path["/q"]
    for _ in range(2):
        with pytest.raises(ArchiveError, match=r"impossible number of children \(0\)"):
            MeshReader(node)


def test_a_file_that_shrinks_while_it_is_read(tmp_path: Path) -> None:
    path = tmp_path / "kelp.abc"
    path.write_bytes(EXAMPLE)
    scene = ArchiveScene(Archive(os.open(path, os.O_RDONLY)))
    os.truncate(path, 60)
    with pytest.raises(ArchiveError, match="became shorter while it was being read"):
        scene.meshes[0].sample(FIRST)
    with pytest.raises(ArchiveError, match="still being written"):
        scene.archive.file.refuse_changed()


def test_long_names_do_not_fill_the_memory(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        add_mesh(writer.top, "k" * 5000)
        add_mesh(writer.top)

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert [mesh.path for mesh in scene.meshes] == ["/kelp"]
    assert len(scene.archive.problems[0]) < 2000
