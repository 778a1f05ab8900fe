"""Tests of meshes in a scene."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from inspector.formats.alembic.mesh import NoSample
from inspector.formats.alembic.ogawa import ArchiveError
from inspector.formats.alembic.scene import MAX_FRAMES, ArchiveScene, clock_of, frames_of
from inspector.formats.alembic.times import ACYCLIC, TimeSampling
from inspector.formats.alembic.writer import ArchiveWriter, ObjectOut
from tests.helpers.alembic import SQUARE, XFORM, add_mesh, add_xform, put, scene_at, show

FIRST, SECOND = 1 / 24, 2 / 24
MOVING = [np.add(SQUARE, number) for number in range(4)]


def world(scene: ArchiveScene, point: tuple[float, float, float], time: float = FIRST, mesh: int = 0) -> list[float]:
    moved = np.array([*point, 1.0]) @ scene.meshes[mesh].placement.world(time)
    return [round(float(value), 9) + 0.0 for value in moved[:3]]


@pytest.mark.parametrize(
    ("operations", "channels", "point", "expected"),
    [
        # Right-handed rotations (common practice, no source), calculated by hand.
        ([1], [1, 2, 3], (0, 0, 0), [1, 2, 3]),
        ([0], [2, 3, 4], (1, 1, 1), [2, 3, 4]),
        ([4], [90], (0, 1, 0), [0, 0, 1]),
        ([5], [90], (0, 0, 1), [1, 0, 0]),
        ([6], [90], (1, 0, 0), [0, 1, 0]),
        ([2], [0, 0, 5, 90], (1, 0, 0), [0, 1, 0]),
        ([3], [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 7, 8, 9, 1], (1, 0, 0), [8, 8, 9]),
        # The last operation is applied first: scale, then translate.
        ([1, 0], [10, 0, 0, 2, 2, 2], (1, 0, 0), [12, 0, 0]),
        ([0, 1], [2, 2, 2, 10, 0, 0], (1, 0, 0), [22, 0, 0]),
        # The usual order: translate, rotate about z, y and x, scale.
        ([1, 6, 5, 4, 0], [1, 0, 0, 90, 0, 0, 2, 2, 2], (1, 0, 0), [1, 2, 0]),
    ],
)
def test_every_operation(
    tmp_path: Path, operations: list[int], channels: list[float], point: Any, expected: list[float]
) -> None:
    scene = scene_at(
        tmp_path / "kelp.abc", lambda writer: add_mesh(add_xform(writer.top, "reef", operations, [channels]))
    )
    assert world(scene, point) == expected


def test_transforms_above_each_other(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        reef = add_xform(writer.top, "reef", [1], [[10, 0, 0]])
        turned = add_xform(reef, "turned", [6], [[90]])
        add_mesh(turned.child("plain", {}))
        alone = add_xform(turned, "alone", [1], [[0, 0, 5]])
        add_mesh(alone)

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert [mesh.path for mesh in scene.meshes] == ["/reef/turned/plain/kelp", "/reef/turned/alone/kelp"]
    assert world(scene, (1, 0, 0)) == [10, 1, 0]
    assert world(scene, (1, 0, 0), mesh=1) == [10, 1, 5]


def test_an_object_that_ignores_those_above(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        reef = add_xform(writer.top, "reef", [0], [[np.nan, 1, 1]])
        node = reef.child("alone", XFORM)
        compound = node.properties.compound(".xform")
        put(compound.scalar(".inherits", "?"), [np.array([False])])
        put(compound.scalar(".ops", "u1"), [np.array([16])])
        put(compound.scalar(".vals", "f8", 3), [np.array([0.0, 0.0, 5.0])])
        add_mesh(node)

    assert world(scene_at(tmp_path / "kelp.abc", fill), (1, 0, 0)) == [1, 0, 5]


def test_transforms_between_samples(tmp_path: Path) -> None:
    scene = scene_at(
        tmp_path / "kelp.abc",
        lambda writer: add_mesh(add_xform(writer.top, "reef", [6], [[0.0], [90.0]]), points=[SQUARE]),
    )
    between = (FIRST + SECOND) / 2
    with pytest.raises(NoSample):
        scene.meshes[0].placement.world(between)
    half = np.array([1.0, 0, 0, 1]) @ scene.meshes[0].placement.world(between, blend=True)
    # Half of a quarter turn keeps the length; the mean of the two matrices would not.
    np.testing.assert_allclose(half[:2], [np.sqrt(0.5), np.sqrt(0.5)], atol=1e-6)


def test_visibility(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        hidden = writer.top.child("hidden", XFORM)
        show(hidden, 0)
        add_mesh(hidden)
        shown = hidden.child("shown", XFORM)
        show(shown, 1)
        add_mesh(shown)
        blinking = writer.top.child("blinking", XFORM)
        show(blinking, 0, 1, 0)
        show(add_mesh(blinking).node, -1)

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert [mesh.hidden for mesh in scene.meshes] == [True, False, False]
    assert [[mesh.placement.shown(number / 24) for number in (1, 2, 3)] for mesh in scene.meshes] == [
        [False] * 3,
        [True] * 3,
        [False, True, False],
    ]


def instance(parent: ObjectOut, name: str, source: str) -> None:
    node = parent.child(name, {"isInstance": "1"})
    put(node.properties.scalar(".instanceSource", "text"), [source])


def test_instances_stand_in_their_own_place(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        original = add_xform(writer.top, "original", [1], [[1, 0, 0]])
        add_mesh(original)
        there = add_xform(writer.top, "there", [1], [[0, 10, 0]])
        instance(there, "copy", "/original")
        instance(writer.top, "bare", "/original/kelp")

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert [mesh.path for mesh in scene.meshes] == ["/original/kelp", "/there/copy/kelp", "/bare"]
    assert [world(scene, (0, 0, 0), mesh=number) for number in range(3)] == [[1, 0, 0], [1, 10, 0], [0, 0, 0]]
    assert scene.meshes[0].reader is scene.meshes[1].reader, "read once"


def test_what_is_not_taken_is_counted(tmp_path: Path) -> None:
    def fill(writer: ArchiveWriter) -> None:
        add_mesh(writer.top)
        for number, kind in enumerate(("Curve_v2", "Camera_v1", "Camera_v1", "Light_v1", "Points_v1")):
            writer.top.child(f"other{number}", {"schema": f"AbcGeom_{kind}"})

    scene = scene_at(tmp_path / "kelp.abc", fill)
    assert scene.not_taken == {"curves": 1, "cameras": 2, "lights": 1, "points": 1}
    assert len(scene.meshes) == 1


def frames(tmp_path: Path, sampling: TimeSampling | None, stated: Fraction | None = None, **metadata: str) -> Any:
    samplings = [] if sampling is None else [sampling]
    scene = scene_at(
        tmp_path / "kelp.abc",
        lambda writer: add_mesh(writer.top, points=MOVING, sampling=len(samplings)),
        samplings,
        **metadata,
    )
    clock = clock_of(scene, stated)
    return clock.rate, clock.source, *frames_of(scene, clock)


def test_the_frame_rate_and_the_frames(tmp_path: Path) -> None:
    film = TimeSampling(1 / 24, (1 / 24,), 0)
    assert frames(tmp_path, film) == (24, "samples", (1, 2, 3, 4), ())
    assert frames(tmp_path, TimeSampling(1 / 24, (3.875,), 0))[2] == (93, 94, 95, 96)
    assert frames(tmp_path, TimeSampling(1 / 25, (0.0,), 0)) == (25, "samples", (0, 1, 2, 3), ())
    assert frames(tmp_path, TimeSampling(1001 / 24000, (1001 / 24000,), 0))[0] == Fraction(24000, 1001)
    assert frames(tmp_path, film, FramesPerTimeUnit="48.000000") == (48, "file", (2, 4, 6, 8), ())
    assert frames(tmp_path, film, _ai_DCC_FPS="24")[1] == "file"
    assert frames(tmp_path, film, Fraction(48), FramesPerTimeUnit="24")[:2] == (48, "stated")
    assert frames(tmp_path, film, FramesPerTimeUnit="many")[:2] == (24, "samples")


def test_parts_of_frames(tmp_path: Path) -> None:
    cyclic = TimeSampling(1 / 24, (0.8 / 24, 1 / 24, 1.2 / 24), 0)
    rate, _, whole, parts = frames(tmp_path, cyclic)
    assert (rate, whole) == (24, (1,))
    assert parts == (Fraction(8, 10), Fraction(12, 10), Fraction(18, 10))
    rate, _, whole, parts = frames(tmp_path, TimeSampling(1 / 96, (1 / 24,), 0))
    assert (rate, whole, parts) == (24, (1,), (Fraction(125, 100), Fraction(15, 10), Fraction(175, 100)))


def test_lists_of_times_with_gaps(tmp_path: Path) -> None:
    listed = TimeSampling(ACYCLIC, tuple(number / 24 for number in (1, 2, 3, 7)), 0)
    assert frames(tmp_path, listed) == (24, "samples", (1, 2, 3, 7), ())


def test_samples_without_times_are_counted(tmp_path: Path) -> None:
    assert frames(tmp_path, None) == (24, "unknown", (0, 1, 2, 3), ())
    assert frames(tmp_path, None, Fraction(25)) == (25, "stated", (0, 1, 2, 3), ())


def test_a_scene_that_stands_still(tmp_path: Path) -> None:
    still = scene_at(tmp_path / "a.abc", lambda writer: add_mesh(writer.top, sampling=0), [])
    assert frames_of(still, clock_of(still)) == ((1,), ())
    later = scene_at(tmp_path / "b.abc", lambda writer: add_mesh(writer.top), [TimeSampling(1 / 24, (3.875,), 0)])
    assert frames_of(later, clock_of(later)) == ((93,), ())


def test_frames_of_all_that_moves(tmp_path: Path) -> None:
    # The mesh has samples in frames 1 and 3, its transform in frames 1 to 4. All four are frames, but 2 and 4 have no
    # points of their own.
    samplings = [TimeSampling(2 / 24, (1 / 24,), 0), TimeSampling(1 / 24, (1 / 24,), 0)]

    def fill(writer: ArchiveWriter) -> None:
        reef = add_xform(writer.top, "reef", [1], [[number, 0, 0] for number in range(4)], sampling=2)
        add_mesh(reef, points=MOVING[:2], sampling=1)

    scene = scene_at(tmp_path / "kelp.abc", fill, samplings)
    assert frames_of(scene, clock_of(scene)) == ((1, 2, 3, 4), ())
    mesh = scene.meshes[0]
    assert mesh.sample(3 / 24).points[0, 0] == 1
    assert mesh.sample(4 / 24).points[0, 0] == 1, "the last sample holds"
    with pytest.raises(NoSample):
        mesh.sample(2 / 24)


def test_times_that_no_film_has(tmp_path: Path) -> None:
    with pytest.raises(ArchiveError, match="time of a sample is too large"):
        frames(tmp_path, TimeSampling(1 / 24, (1e300,), 0))
    assert MAX_FRAMES >= 24 * 60 * 60
