"""jitter: points that tremble each for itself; shaking, flapping and poses, which they do together, are healthy."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.motion.jitter import off_path_of
from tests.helpers.meshes import Mesh, plain, torus, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Files, finding_of, frames, heard, look

NUMBERS = range(1, 25)
RING = torus(24, 12)
DIAGONAL = 7.8  # of the ring, about


def shot_of(motion: Callable[[int], Mesh], decimals: int = 6) -> Files:
    dressed = {n: motion(n).edit(head=wing(0).head, state=wing(0).state) for n in NUMBERS}
    return MATERIALS | frames({n: mesh.text(decimals) for n, mesh in dressed.items()})


def gliding(number: int) -> Mesh:
    return RING.edit(positions=RING.positions + np.array([0, 0, 0.01 * number]))


def trembling(number: int, way: float = 0.005) -> Mesh:
    noise = np.random.default_rng(number).normal(0, way * DIAGONAL / np.sqrt(3), RING.positions.shape)
    return gliding(number).edit(positions=gliding(number).positions + noise)


def test_points_that_tremble(tmp_path: Path) -> None:
    """Noise of variance s^2 is off the cubic path by s^2 (1 + (1 + 16 + 16 + 1) / 36) = 1.94 s^2."""
    said, inspection = broken(tmp_path, "jitter", shot_of(trembling), good=shot_of(gliding))
    assert [one for one in said if one[1] != "note"] == [("jitter", "warning", [float(n) for n in range(3, 23)])]
    assert finding_of(inspection, "jitter").numbers["diagonals"] == pytest.approx(0.005 * np.sqrt(1.94), rel=0.2)


def test_for_a_while(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot_of(lambda n: trembling(n) if 8 <= n <= 16 else gliding(n))))
    (frames_said,) = [numbers for check, _, numbers in said if check == "jitter"]
    assert set(range(8, 17)) <= set(frames_said) <= set(range(6, 19))


def test_the_cubic_path() -> None:
    """Exact for a cubic; a lone way off is itself."""
    times = np.arange(5.0)
    assert off_path_of(list(times**3 - 2 * times)) == pytest.approx(0.0)
    assert off_path_of([0.0, 0.0, 3.0, 0.0, 0.0]) == 3.0  # type: ignore[list-item]


def pose(number: int) -> Mesh:
    """Another smooth shape on every frame, as in a set of expressions."""
    amount = np.random.default_rng(number).normal(0, 0.1, (3, 3))
    return RING.edit(positions=RING.positions + np.sin(RING.positions @ amount * 3) * 0.3)


def shaking(number: int) -> Mesh:
    return RING.edit(positions=RING.positions + np.random.default_rng(number).normal(0, 0.1, 3))


def fluttering(number: int) -> Mesh:
    """To and fro on every frame, in a wave over the surface."""
    wave = np.sin(RING.positions[:, :1]) * (-1) ** number * np.array([0, 0, 0.1])
    return RING.edit(positions=RING.positions + wave)


HEALTHY = {"poses": pose, "shaking as a whole": shaking, "fluttering": fluttering}


@pytest.mark.parametrize("motion", HEALTHY)
def test_what_moves_together_is_healthy(motion: str, tmp_path: Path) -> None:
    assert "jitter" not in {check for check, _, _ in heard(look(tmp_path, shot_of(HEALTHY[motion])))}


def test_rounding_is_told_of_as_that(tmp_path: Path) -> None:
    """Slow motion in steps of a hundredth."""
    said = heard(look(tmp_path, shot_of(lambda n: RING.edit(positions=RING.positions * (1 + 0.0007 * n)), 2)))
    assert {check for check, severity, _ in said if severity != "note"} == {"few-decimals"}


def test_points_without_faces_go_their_own_way(tmp_path: Path) -> None:
    clouds = {n: plain(trembling(n).positions, []) for n in NUMBERS}
    assert "jitter" in dict(look(tmp_path, frames(clouds)).verdict.skipped)
