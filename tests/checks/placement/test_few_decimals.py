"""Tests of `few-decimals`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.meshes import Mesh, plain, torus
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Files, finding_of, frames, heard, look


def ring(n: int) -> Mesh:
    mesh = torus(16, 8).edit(normals=np.empty((0, 3)))
    mesh = plain(mesh.positions, [[v for v, _, _ in face] for face in mesh.faces])
    return mesh.edit(positions=mesh.positions + np.array([0.01 * n, 0, 0]))


def texts(decimals: int, size: float = 1.0) -> dict[int, bytes]:
    return {n: ring(n).edit(positions=size * ring(n).positions).text(decimals) for n in range(1, 7)}


def only(folder: Path, decimals: int, size: float = 1.0) -> list[str]:
    return [one.check for one in look(folder, frames(texts(decimals, size))).findings if one.check != "no-uvs"]


def test_silent_then_broken(tmp_path: Path) -> None:
    every = [float(n) for n in range(1, 7)]
    assert only(tmp_path / "fine", 6) == []
    said, inspection = broken(tmp_path, "few-decimals", frames(texts(3)), companions={"no-uvs": "the ring has none"})
    assert said == [("few-decimals", "warning", every), ("no-uvs", "note", every)]
    finding = finding_of(inspection, "few-decimals")
    # The torus with radii of 2 and 0.7 is 5.4 x 5.4 x 1.4 units large. Its diagonal is 7.764 units, in steps of 0.001.
    assert finding.numbers["steps"] == pytest.approx(7764, abs=1)
    assert finding.message.startswith(
        "positions have 3 decimal places: the object's diagonal of 7.764 units is only 7,764 rounding steps long"
    )


def test_what_counts_is_decimals_against_size(tmp_path: Path) -> None:
    assert only(tmp_path / "large", 3, 10.0) == []
    assert only(tmp_path / "small", 4, 0.1) == ["few-decimals"]


def test_one_frame_rounded(tmp_path: Path) -> None:
    inspection = look(tmp_path, frames({**texts(6), 4: ring(4).text(3)}))
    assert [one for one in heard(inspection) if one[0] != "no-uvs"] == [
        ("few-decimals", "warning", [4.0]),
        ("mixed-exports", "note", [4.0]),
    ]


@pytest.mark.parametrize("decimals", [3, 6])
def test_faces_that_rounding_collapses(decimals: int, tmp_path: Path) -> None:
    def thin(n: int) -> Mesh:
        mesh = ring(n)
        positions = mesh.positions.copy()
        positions[8:16] = positions[:8] + 0.0004 * (positions[8:16] - positions[:8])
        return mesh.edit(positions=positions)

    said = heard(look(tmp_path, frames({n: thin(n).text(decimals if n == 4 else 6) for n in range(1, 7)})))
    assert [one for one in said if one[1] != "note"] == ([("few-decimals", "warning", [4.0])] if decimals == 3 else [])
    assert "zero-area-faces" not in {check for check, _, _ in said}


def test_few_points_on_round_numbers_are_healthy(tmp_path: Path) -> None:
    cube = [[x, y, z] for x in (0, 2) for y in (0, 2) for z in (0, 2)]
    faces = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    texts = {n: plain(np.add(cube, [n, 0.0, 0.0]), faces).text(0) for n in range(1, 7)}
    assert {one.check for one in look(tmp_path, frames(texts)).findings} == {"no-uvs"}


def test_a_mesh_of_blocks_is_healthy(tmp_path: Path) -> None:
    corners = [(x, x // 2 % 3, z) for x in range(20) for z in range(10)]
    faces = [(at, at + 1, at + 11, at + 10) for at in range(0, 190) if at % 10 < 9 and at // 10 % 2 == 0]
    texts = {n: plain(np.add(corners, [n, 0.0, 0.0]), faces).text(0) for n in range(1, 7)}
    assert "few-decimals" not in {one.check for one in look(tmp_path, frames(texts)).findings}


@pytest.mark.parametrize(("size", "found"), [(1.28, True), (1.3, False)])
def test_how_many_steps_are_few(size: float, found: bool, tmp_path: Path) -> None:
    """With three decimal places, a step is 0.001. The diagonal is 9,938 steps long at size 1.28, and 10,093 steps long
    at size 1.3. At least 10,000 steps are required (FEWEST_STEPS)."""
    assert only(tmp_path, 3, size) == ["few-decimals"] * found


def squares(straight: int, slanted: int) -> Files:
    rings = [[(0, 0), (1, 0), (1, 1), (0, 1)]] * straight + [[(0, 0), (1, 1), (0, 2), (-1, 1)]] * slanted
    points = [(x + 4.0 * at, z, 0.0) for at, ring in enumerate(rings) for x, z in ring]
    faces = [range(4 * at, 4 * at + 4) for at in range(len(rings))]
    return frames({n: plain(np.array(points) + np.array([n, 0.0, 0.0]), faces).text(0) for n in range(1, 4)})


@pytest.mark.parametrize(
    ("straight", "slanted", "found"),
    [(0, 24, False), (0, 25, True), (51, 49, False), (49, 51, True)],
    ids=["96 vertices", "100 vertices", "mostly along an axis", "mostly slanted"],
)
def test_which_mesh_may_have_been_rounded(straight: int, slanted: int, found: bool, tmp_path: Path) -> None:
    said = {check for check, _, _ in heard(look(tmp_path, squares(straight, slanted)))}
    assert ("few-decimals" in said) is found
