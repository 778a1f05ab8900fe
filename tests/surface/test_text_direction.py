"""Tests of the direction of lettering. On the sheets in these tests, the direction is obvious (no source needed)."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.surface.text_direction import Reading, Upright, directions, summarise
from tests.helpers.meshes import Mesh
from tests.helpers.shapes import Floats, measured, remapped, sheet_mesh, wall

SHEET = sheet_mesh(wall(16, 9), 2, 2)


def reading_of(mesh: Mesh, upright: Upright | None = None) -> Reading:
    metric = measured(mesh)[2]
    lines = directions(metric, upright or Upright())
    means = complex(lines.upright.mean()), complex(lines.flat.mean())
    return summarise(*means, float(lines.tilt.mean()), float(lines.mirrored.mean()))


def turned_by(degrees: float) -> Mesh:
    """Return a wall on which lettering is rotated counter-clockwise by `degrees`. u increases along (cos, sin)."""
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    return remapped(SHEET, lambda u, v: (c * 16 * u + s * 9 * v, -s * 16 * u + c * 9 * v))


@pytest.mark.parametrize(
    ("degrees", "words"),
    [
        (0, "upright"),
        (10, "upright"),
        (30, "rotated 30 degrees counter-clockwise"),
        (90, "rotated 90 degrees counter-clockwise"),
        (-90, "rotated 90 degrees clockwise"),
        (180, "upside down"),
    ],
)
def test_turned_lettering(degrees: float, words: str) -> None:
    reading = reading_of(turned_by(degrees))
    assert np.cos(np.radians(reading.turned - degrees)) == pytest.approx(1)
    assert reading.words == words
    assert reading.mirrored == 0
    assert reading.spread == pytest.approx(0)
    assert not reading.flat


def test_mirrored_lettering() -> None:
    assert reading_of(remapped(SHEET, lambda u, v: (1 - u, v))).words == "mirrored"
    assert reading_of(remapped(SHEET, lambda u, v: (u, 1 - v))).words == "mirrored, upside down"


def test_seen_from_behind_a_wall_it_is_mirrored() -> None:
    """Lettering is read from the front of the faces. If the faces are reversed, the texture is seen from the back."""
    behind = SHEET.edit(faces=tuple(face[::-1] for face in SHEET.faces))
    assert reading_of(behind).words == "mirrored"


@pytest.mark.parametrize("angle", [0, 70, 135, 250])
def test_a_wall_that_looks_elsewhere_is_upright_all_the_same(angle: float) -> None:
    c, s = np.cos(np.radians(angle)), np.sin(np.radians(angle))
    mesh = sheet_mesh(lambda u, v: (16 * u * c, 9 * v, -16 * u * s), 2, 2)
    assert reading_of(mesh).words == "upright"


def floor(u: Floats, v: Floats) -> tuple[Floats, Floats, Floats]:
    return 16 * u, 0 * u, -9 * v


def ceiling(u: Floats, v: Floats) -> tuple[Floats, Floats, Floats]:
    return 16 * u, 0 * u, 9 * v


def test_floor_and_ceiling_read_upright_for_someone_before_them() -> None:
    for surface in (floor, ceiling):
        reading = reading_of(sheet_mesh(surface, 2, 2))
        assert (reading.flat, reading.words) == (True, "upright")


def test_lettering_turned_on_the_floor_and_on_the_ceiling() -> None:
    for surface in (floor, ceiling):
        mesh = remapped(sheet_mesh(surface, 2, 2), lambda u, v: (v, 1 - u))
        assert reading_of(mesh).words == "rotated 90 degrees counter-clockwise"


def test_up_may_be_another_axis() -> None:
    mesh = sheet_mesh(lambda u, v: (16 * u, 0 * u, 9 * v), 2, 2).edit(head=())
    looking = mesh.edit(faces=tuple(face[::-1] for face in mesh.faces))
    assert reading_of(mesh, Upright(up=(0, 0, 1), front=(0, -1, 0))).words == "upright"
    assert reading_of(looking, Upright(up=(0, 0, 1), front=(0, -1, 0))).words == "mirrored"


def test_two_halves_that_read_against_each_other_read_in_all_directions() -> None:
    metric = [directions(measured(turned_by(angle))[2], Upright()) for angle in (0, 180)]
    mean = complex(sum(lines.upright.mean() for lines in metric)) / 2
    assert summarise(mean, 0j, 1.0, 0.0).words == "in all directions"


@pytest.mark.parametrize(("spread", "words"), [(0.49, "upright"), (0.51, "in all directions")])
def test_how_far_the_directions_of_lettering_may_spread(spread: float, words: str) -> None:
    assert Reading(turned=0.0, mirrored=0.0, spread=spread, flat=False).words == words


@pytest.mark.parametrize(("degrees", "flat"), [(29, True), (31, False)])
def test_how_steep_a_sheet_must_be_to_have_an_up_of_its_own(degrees: float, flat: bool) -> None:
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    assert reading_of(sheet_mesh(lambda u, v: (16 * u, 9 * v * s, -9 * v * c), 2, 2)).flat is flat
