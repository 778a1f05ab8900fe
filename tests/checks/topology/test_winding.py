"""Tests of `winding`. Seen from the front of a face, its corners run counter-clockwise (format document)."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.topology import mirrored, wound_back
from tests.helpers.meshes import Mesh, grid_faces, plain, prism, sphere
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Heard, finding_of, frames, heard, look, shot
from tests.helpers.surfaces import EVERY, NUMBERS, lit, ring, sequence


def begun_elsewhere(mesh: Mesh) -> Mesh:
    return mesh.edit(faces=tuple(face[at % 4 :: -1] + face[: at % 4 : -1] for at, face in enumerate(mesh.faces)))


def test_all_faces(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "winding", shot({5: wound_back}))
    assert said == [("winding", "error", [5.0])]
    finding = finding_of(inspection, "winding")
    assert finding.numbers == {"kind": "faces", "faces": 12}
    assert finding.where[0].element == "face 1"


def test_some_faces(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "winding", shot({5: lambda mesh: wound_back(mesh, range(3, 5))}))
    assert said == [("winding", "error", [5.0])]
    finding = finding_of(inspection, "winding")
    assert (finding.numbers["faces"], finding.where[0].element) == (2, "face 4")


def test_from_another_corner(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot({5: begun_elsewhere, 6: begun_elsewhere}))) == [("winding", "error", [5.0, 6.0])]


def test_normals_that_stay_are_the_same_cause(tmp_path: Path) -> None:
    assert heard(look(tmp_path, sequence(lit, {5: wound_back}))) == [("winding", "error", [5.0])]


@pytest.mark.parametrize("far", [0.0, 1e5])
def test_a_closed_surface_inside_out(far: float, tmp_path: Path) -> None:
    """Far from the origin, products of coordinates nearly cancel out."""

    def placed(number: int) -> Mesh:
        mesh = ring(number)
        return mesh.edit(positions=mesh.positions + np.array([0, far, 0]))

    away = [("far-from-origin", "warning", EVERY)] if far else []
    assert heard(look(tmp_path / "healthy", sequence(placed))) == away
    inspection = look(tmp_path / "broken", sequence(placed, {5: mirrored}))
    assert heard(inspection) == [*away, ("winding", "error", [5.0])]
    assert finding_of(inspection, "winding").numbers["kind"] == "mirrored"


@pytest.mark.parametrize(("factor", "found"), [(0.91, True), (0.89, False), (1.09, True), (1.11, False)])
def test_a_frame_that_is_not_quite_mirrored(factor: float, found: bool, tmp_path: Path) -> None:
    """With only two frames, only the sign of the volume shows that a frame is mirrored. The absolute volumes of the two
    frames may differ by up to a tenth (MIRROR_KEEPS)."""
    ball = sphere(8, 12)
    other = ball.edit(positions=ball.positions * [-(factor ** (1 / 3)), factor ** (1 / 3), factor ** (1 / 3)])
    said = heard(look(tmp_path, frames({1: ball, 2: other})))
    assert [one for one in said if one[0] == "winding"] == [("winding", "error", [2.0])] * found


@pytest.mark.parametrize("number", [1, 5, 12])
def test_a_displaced_part_is_not_mirrored(number: int, tmp_path: Path) -> None:
    def torn(mesh: Mesh) -> Mesh:
        positions = mesh.positions.copy()
        positions[:16] -= 6.0 * (positions[:16] - positions.mean(axis=0))
        return mesh.edit(positions=positions)

    files = sequence(ring, {number: torn})
    said = {check for check, severity, _ in heard(look(tmp_path, files)) if severity != "note"}
    assert said
    assert "winding" not in said


def test_a_first_frame_that_is_mirrored(tmp_path: Path) -> None:
    assert heard(look(tmp_path, sequence(ring, {1: mirrored}))) == [("winding", "error", [1.0])]


@pytest.mark.parametrize("size", [0.3, 0.6])
def test_an_open_surface_mirrored_amid_fast_motion(size: float, tmp_path: Path) -> None:
    """From one frame to the next, the points move nearly as far as a reflection of the thin body would move them. But
    the distance of a point from the mean of its positions on the two neighbouring frames is only a quarter of this
    movement."""
    x, around = (axis.ravel() for axis in np.meshgrid(np.linspace(-1.5, 1.5, 16), np.linspace(0, 5, 12), indexing="ij"))

    def pulsing(number: int) -> Mesh:
        waves = size * np.sin(2.0 * x + 2 * np.pi * number / 12)
        points = np.stack([x + waves, 0.3 * np.cos(around), 0.2 * np.sin(around) + 0.1 * x], axis=1)
        return plain(points, grid_faces(16, 12))

    def said(folder: str, changed: Mesh | None = None) -> list[Heard]:
        meshes = {number: pulsing(number) for number in NUMBERS} | ({6: changed} if changed else {})
        return [one for one in heard(look(tmp_path / folder, frames(meshes))) if one[1] != "note"]

    assert said("healthy") == []
    assert said("broken", mirrored(pulsing(6))) == [("winding", "error", [6.0])]


def test_a_closed_surface_turned_to_its_other_side_is_none(tmp_path: Path) -> None:
    files = sequence(ring, {n: lambda mesh: mesh.edit(positions=mesh.positions * [-1, -1, 1]) for n in range(5, 13)})
    assert not [said for said in heard(look(tmp_path, files)) if said[0] == "winding"]


@pytest.mark.parametrize(("turned", "found"), [((5, 9), True), ((5, 9, 14), False)])
def test_how_many_frames_of_a_mesh_that_changes_throughout(
    turned: tuple[int, ...], found: bool, tmp_path: Path
) -> None:
    balls = {number: sphere(5 + number % 3, 6 + number % 5) for number in range(1, 21)}
    balls |= {number: wound_back(balls[number], range(len(balls[number].faces))) for number in turned}
    said = [one for one in heard(look(tmp_path, frames(balls))) if one[0] == "winding"]
    assert said == [("winding", "error", [float(number) for number in turned])] * found


@pytest.mark.parametrize(("share", "found"), [(0.0009, False), (0.0011, True)])
def test_how_thick_a_closed_sheet_is_that_has_an_inside(share: float, found: bool, tmp_path: Path) -> None:
    """A closed sheet has an inside if its volume is more than 0.001 * area**1.5 (VOLUME_SHARE). By hand: each side is a
    regular polygon with the area n/2 sin(2 pi/n). The rim's area is negligible."""

    def thin(number: int) -> Mesh:
        sides = 5 + number % 4
        mesh, face = prism(sides), 0.5 * sides * np.sin(2 * np.pi / sides)
        flat = mesh.positions * [1, 1, share * (2 * face) ** 1.5 / face]
        return plain(flat, [[v for v, _, _ in one] for one in mesh.faces])

    plates = {number: thin(number) for number in range(1, 21)}
    plates[5] = wound_back(plates[5])
    said = [one for one in heard(look(tmp_path, frames(plates))) if one[0] == "winding"]
    assert said == [("winding", "error", [5.0])] * found
