"""Tests of motion checks on quads that are cut into different triangles in each frame, as seen in public data."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from inspector.arrays import Floats
from tests.helpers.meshes import Mesh, plain, torus
from tests.helpers.sequences import Files, frames, heard, look
from tests.helpers.shuffling import shuffled

RING = torus(24, 12)
QUADS = [tuple(v for v, _, _ in face) for face in RING.faces]
COUNT = 24
Change = Callable[[Floats], Floats]


def cut(seed: int, pose: Floats) -> Mesh:
    along = np.random.default_rng(seed).random(len(QUADS)) < 0.5
    faces = [
        half
        for (a, b, c, d), other in zip(QUADS, along, strict=True)
        for half in (((a, b, d), (b, c, d)) if other else ((a, b, c), (a, c, d)))
    ]
    return plain(pose, faces)


def bending(time: float) -> Floats:
    x, y, z = RING.positions.T
    return np.stack([x + 0.05 * time, y + 0.2 * np.sin(x + 0.3 * time), z + 0.3 * np.sin(0.25 * time + y)], axis=1)


def body(times: Sequence[float] = range(COUNT), changes: dict[int, Change] | None = None) -> dict[int, Mesh]:
    changes = changes or {}
    poses = {number: changes.get(number, np.array)(bending(time)) for number, time in enumerate(times, 1)}
    return {number: cut(number, poses[number]) for number, time in enumerate(times, 1)}


def said_of(folder: Path, files: Files) -> list[tuple[str, str, list[float]]]:
    """Return the findings, without notes and without those of `changed-faces`, which are expected in these tests."""
    every = [one for one in heard(look(folder, files)) if one[1] != "note"]
    return [one for one in every if one[0] != "changed-faces"]


def one_off(positions: Floats) -> Floats:
    moved = positions.copy()
    moved[100] += [0.0, 0.0, 0.3]
    return moved


def noisy(positions: Floats) -> Floats:
    return positions + np.random.default_rng(1).normal(scale=0.02, size=positions.shape)


def mirrored(positions: Floats) -> Floats:
    return positions * [-1.0, 1.0, 1.0]


def test_the_healthy_body(tmp_path: Path) -> None:
    inspection = look(tmp_path, frames(body()))
    assert [one.check for one in inspection.findings if one.severity.word != "note"] == ["changed-faces"]
    assert inspection.series.followed.all()


@pytest.mark.parametrize(("change", "check"), [(one_off, "spike"), (noisy, "noisy-frame"), (mirrored, "winding")])
def test_one_frame_off(change: Change, check: str, tmp_path: Path) -> None:
    said = said_of(tmp_path, frames(body(changes={12: change})))
    assert [(one, numbers) for one, _, numbers in said] == [(check, [12.0])]


@pytest.mark.parametrize(
    ("times", "check", "numbers"),
    [
        ([*range(11), 21, *range(12, 24)], "pop", [12.0]),
        ([*range(10), 11, 10, *range(12, 24)], "swapped-frames", [11.0, 12.0]),
        ([*range(12), *range(13, 25)], "dropped-frames", [13.0]),
    ],
)
def test_frames_at_another_time(times: list[float], check: str, numbers: list[float], tmp_path: Path) -> None:
    assert [(one, named) for one, _, named in said_of(tmp_path, frames(body(times)))] == [(check, numbers)]


def test_noise_on_all_frames(tmp_path: Path) -> None:
    random = np.random.default_rng(3)
    changes = {number: lambda p: p + random.normal(scale=0.01, size=p.shape) for number in range(1, COUNT + 1)}
    assert [one for one, _, _ in said_of(tmp_path, frames(body(changes=changes)))] == ["jitter"]


def test_a_renumbered_frame_is_not_followed(tmp_path: Path) -> None:
    meshes = body()
    inspection = look(tmp_path, frames(meshes | {12: shuffled(meshes[12])}))
    assert np.flatnonzero(~inspection.series.followed).tolist() == [11]
    assert [one.check for one in inspection.findings if one.severity.word != "note"] == ["changed-faces"]


def test_a_mesh_that_is_renumbered_throughout_is_not_followed(tmp_path: Path) -> None:
    """By chance, a mesher may create the same number of vertices in every frame, but in a different order each time."""
    meshes = {number: shuffled(mesh, number) for number, mesh in body().items()}
    inspection = look(tmp_path, frames(meshes))
    assert np.count_nonzero(inspection.series.followed) == 1
    assert [one.check for one in inspection.findings if one.severity.word != "note"] == ["changed-faces"]
