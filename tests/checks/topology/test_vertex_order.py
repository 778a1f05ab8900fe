"""Tests of `vertex-order`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.topology import ORDER, renumbered, shuffled
from tests.helpers.meshes import Floats, Mesh, torus, wing, with_faces
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot
from tests.helpers.surfaces import NUMBERS, sequence


def faces_in_another_order(mesh: Mesh) -> Mesh:
    mesh = renumbered(mesh)
    return mesh.edit(faces=tuple(mesh.faces[at] for at in np.random.default_rng(6).permutation(12)))


def two_swapped(mesh: Mesh) -> Mesh:
    swapped = {0: 19, 19: 0}
    positions = mesh.positions.copy()
    positions[[0, 19]] = positions[[19, 0]]
    return with_faces(mesh.edit(positions=positions), lambda corner: (swapped.get(corner[0], corner[0]), *corner[1:]))


@pytest.mark.parametrize(
    ("edit", "count"),
    [(renumbered, int((np.arange(20) != ORDER).sum())), (two_swapped, 2), (faces_in_another_order, 0)],
)
def test_faces_follow(edit: Callable[[Mesh], Mesh], count: int, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "vertex-order", shot({5: edit}))
    assert said == [("vertex-order", "error", [5.0])]
    assert finding_of(inspection, "vertex-order").numbers == {"kind": "faces follow", "vertices": count}


@pytest.mark.parametrize(
    "odd", [[5], [1], [12], [4, 5, 6], [2, 9], list(range(8, 13)), list(range(1, 6))], ids=lambda odd: f"{odd}"
)
def test_faces_stay(odd: list[int], tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "vertex-order", shot(dict.fromkeys(odd, shuffled)))
    assert said == [("vertex-order", "error", [float(number) for number in odd])]
    finding = finding_of(inspection, "vertex-order")
    assert finding.numbers == {"kind": "faces stay", "vertices": int((np.arange(20) != ORDER).sum())}
    assert finding.where[0].element == "vertex 1"
    assert finding.fixes == ("fill-frames",)


def moved(motion: Callable[[Floats, float], Floats], of: Mesh) -> Callable[[int], Mesh]:
    def at(number: int) -> Mesh:
        return of.edit(
            positions=motion(of.positions, (number - 1) / 11),
            head=wing(0).head,
            state=wing(0).state,
            normals=of.normals,
        )

    return at


def stretched(points: Floats, time: float) -> Floats:
    return points * [1 + 9 * time, 1 / (1 + time), 1 / (1 + time)]


def crumpled(points: Floats, time: float) -> Floats:
    """Flatten the mesh and roll it up along x, so that its bounding box becomes smaller."""
    radius = 4 / (0.01 + 9 * time)
    return np.stack(
        [radius * np.sin(points[:, 0] / radius), radius * np.cos(points[:, 0] / radius), points[:, 2]], axis=1
    )


def roughened(points: Floats, time: float) -> Floats:
    return points + np.stack(
        [0 * time + 0 * points[:, 0], (0.1 + time) * np.sin(7 * points[:, 0]), 0 * points[:, 0]], axis=1
    )


@pytest.mark.parametrize("motion", [stretched, crumpled, roughened])
@pytest.mark.parametrize("mesh", [wing(0), torus(24, 12)], ids=["wing", "ring"])
def test_healthy_stretching(motion: Callable[[Floats, float], Floats], mesh: Mesh, tmp_path: Path) -> None:
    said = heard(look(tmp_path, sequence(moved(motion, mesh))))
    assert [one for one in said if one[0] in ("vertex-order", "changed-faces")] == []


def test_a_frame_of_another_size_is_told_of_as_that(tmp_path: Path) -> None:
    files = shot({6: lambda mesh: mesh.edit(positions=mesh.positions * 100)})
    assert "vertex-order" not in {check for check, _, _ in heard(look(tmp_path, files))}


def test_all_frames_in_an_order_of_their_own(tmp_path: Path) -> None:
    def own(number: int) -> Mesh:
        order = np.random.default_rng(number).permutation(20)
        mesh, back = wing(number), np.argsort(order)
        return with_faces(
            mesh.edit(positions=mesh.positions[order]), lambda corner: (int(back[corner[0]]), *corner[1:])
        )

    assert heard(look(tmp_path, sequence(own))) == [("vertex-order", "error", [float(n) for n in NUMBERS[1:]])]


@pytest.mark.parametrize("seed", [30, 45])
def test_an_order_in_which_the_object_looks_smaller(seed: int, tmp_path: Path) -> None:
    """With these seeds, the distances between sampled vertices become shorter by similar factors."""

    def drifting(number: int) -> Mesh:
        mesh = torus(12, 60)
        places = mesh.positions * [1.0, 1.0, 1.0 + 0.02 * np.sin(number / 3)] + [0.02 * number, 0.0, 0.0]
        return mesh.edit(positions=np.random.default_rng(seed).permutation(places) if number == 5 else places)

    assert heard(look(tmp_path, sequence(drifting))) == [("vertex-order", "error", [5.0])]
