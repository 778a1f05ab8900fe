"""Tests of `jitter`."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.motion.jitter import is_white, long_runs, off_path_of
from tests.helpers.meshes import Mesh, plain, torus, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Files, finding_of, frames, heard, look

NUMBERS = range(1, 25)
RING = torus(24, 12)
DIAGONAL = 7.8  # diagonal of the ring (rounded), in scene units


def shot_of(motion: Callable[[int], Mesh], decimals: int = 6) -> Files:
    dressed = {n: motion(n).edit(head=wing(0).head, state=wing(0).state) for n in NUMBERS}
    return MATERIALS | frames({n: mesh.text(decimals) for n, mesh in dressed.items()})


def gliding(number: int) -> Mesh:
    return RING.edit(positions=RING.positions + np.array([0, 0, 0.01 * number]))


def trembling(number: int, way: float = 0.005) -> Mesh:
    noise = np.random.default_rng(number).normal(0, way * DIAGONAL / np.sqrt(3), RING.positions.shape)
    return gliding(number).edit(positions=gliding(number).positions + noise)


def test_points_that_tremble(tmp_path: Path) -> None:
    """By hand: if the noise has the variance s^2, the mean squared distance from the cubic path through the
    neighbouring frames is s^2 (1 + (1 + 16 + 16 + 1) / 36) = 1.94 s^2."""
    said, inspection = broken(tmp_path, "jitter", shot_of(trembling), good=shot_of(gliding))
    assert [one for one in said if one[1] != "note"] == [("jitter", "warning", [float(n) for n in range(3, 23)])]
    assert finding_of(inspection, "jitter").numbers["diagonals"] == pytest.approx(0.005 * np.sqrt(1.94), rel=0.2)


def test_for_a_while(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot_of(lambda n: trembling(n) if 8 <= n <= 16 else gliding(n))))
    (frames_said,) = [numbers for check, _, numbers in said if check == "jitter"]
    assert set(range(8, 17)) <= set(frames_said) <= set(range(6, 19))


def test_the_cubic_path() -> None:
    times = np.arange(5.0)
    assert off_path_of(list(times**3 - 2 * times)) == pytest.approx(0.0)
    assert off_path_of([0.0, 0.0, 3.0, 0.0, 0.0]) == 3.0  # type: ignore[list-item]


def pose(number: int) -> Mesh:
    amount = np.random.default_rng(number).normal(0, 0.1, (3, 3))
    return RING.edit(positions=RING.positions + np.sin(RING.positions @ amount * 3) * 0.3)


def shaking(number: int) -> Mesh:
    return RING.edit(positions=RING.positions + np.random.default_rng(number).normal(0, 0.1, 3))


def fluttering(number: int) -> Mesh:
    wave = np.sin(RING.positions[:, :1]) * (-1) ** number * np.array([0, 0, 0.1])
    return RING.edit(positions=RING.positions + wave)


HEALTHY = {"poses": pose, "shaking as a whole": shaking, "fluttering": fluttering}


@pytest.mark.parametrize("motion", HEALTHY)
def test_what_moves_together_is_healthy(motion: str, tmp_path: Path) -> None:
    assert "jitter" not in {check for check, _, _ in heard(look(tmp_path, shot_of(HEALTHY[motion])))}


def test_rounding_is_told_of_as_that(tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot_of(lambda n: RING.edit(positions=RING.positions * (1 + 0.0007 * n)), 2)))
    assert {check for check, severity, _ in said if severity != "note"} == {"few-decimals"}


def test_points_without_faces_go_their_own_way(tmp_path: Path) -> None:
    clouds = {n: plain(trembling(n).positions, []) for n in NUMBERS}
    assert "jitter" in dict(look(tmp_path, frames(clouds)).verdict.skipped)


def jittery(folder: Path, motion: Callable[[int], Mesh], decimals: int = 6) -> bool:
    return "jitter" in {check for check, _, _ in heard(look(folder, shot_of(motion, decimals)))}


@pytest.mark.parametrize(("way", "found"), [(4.0e-4, False), (6.0e-4, True)])
def test_from_which_size_it_is_seen(way: float, found: bool, tmp_path: Path) -> None:
    """By hand: the distance from the cubic path is sqrt(1.94) times the noise. A smooth field explains a sixth of this
    distance. The median is 0.89 of the root mean square (Maxwell distribution). The limit for the median is 5e-4
    diagonals, so the limit for `way`, the root mean square of the noise, is 5e-4 / (0.89 sqrt(1.94) 5/6) = 4.8e-4
    diagonals."""
    assert jittery(tmp_path, lambda number: trembling(number, way)) is found


@pytest.mark.parametrize(("off", "found"), [(0.016, False), (0.024, True)])
def test_rounding_to_two_decimals_is_two_steps_at_most(off: float, found: bool, tmp_path: Path) -> None:
    way = off / DIAGONAL / (0.89 * np.sqrt(1.94))
    assert jittery(tmp_path, lambda number: trembling(number, way), 2) is found


@pytest.mark.parametrize(("own", "found"), [(0.6, False), (0.8, True)])
def test_how_much_of_it_neighbours_share(own: float, found: bool, tmp_path: Path) -> None:
    """`own` is the fraction of the variance that is independent noise at each vertex. The rest is a displacement that
    all vertices have in common."""

    def shaken(number: int) -> Mesh:
        shake = np.random.default_rng(100 + number).normal(0, 0.02 * np.sqrt(1 - own), 3)
        noise = np.random.default_rng(number).normal(0, 0.02 * np.sqrt(own), RING.positions.shape)
        return RING.edit(positions=RING.positions + shake + noise)

    assert jittery(tmp_path, shaken) is found


@pytest.mark.parametrize(("frames_in_a_row", "runs"), [(5, []), (6, [(3, 9)])])
def test_how_long_it_must_last(frames_in_a_row: int, runs: list[tuple[int, int]]) -> None:
    flags = np.zeros(20, bool)
    flags[3 : 3 + frames_in_a_row] = True
    assert long_runs(flags) == runs


@pytest.mark.parametrize(("correlation", "white"), [(-0.3, False), (-0.5, True)])
def test_noise_changes_sides_from_frame_to_frame(correlation: float, white: bool) -> None:
    """The parameter is the correlation of consecutive values in a first-order autoregressive series. The limit is -0.4
    (JITTER_WHITE)."""
    random = np.random.default_rng(3)
    off = [random.normal(size=(9, 3))]
    for _ in range(800):
        off.append(correlation * off[-1] + random.normal(size=(9, 3)))
    assert is_white(np.array(off)) is white


RMS = float(np.sqrt(np.square(np.sin(RING.positions[:, 0] / 3)).mean()))


def on_twos(
    number: int, way: float, trembles: bool = True, also: float = 0.0, swing: float = 0.5, held: int = 2
) -> Mesh:
    """Return a frame of a ring that holds each pose for `held` frames.

    `way` is the root mean square of the noise, and `also` is that of an additional motion on every second frame, both
    in diagonals. `swing` is the amplitude of the motion from pose to pose, in scene units.
    """
    moved = np.sin(RING.positions[:, :1] / 2 + number // held * 0.7) * [0.0, swing, 0.0]
    moved += also * (number % 2) * np.sin(RING.positions[:, :1] / 3) / RMS * [0.0, DIAGONAL, 0.0]
    noise = np.random.default_rng(number).normal(0, way * DIAGONAL / np.sqrt(3), RING.positions.shape)
    return RING.edit(positions=RING.positions + moved + noise * trembles)


def test_held_poses_that_tremble(tmp_path: Path) -> None:
    """The finding states the median distance, which is 0.89 of the root mean square of the noise (Maxwell
    distribution)."""
    inspection = look(tmp_path, shot_of(lambda n: on_twos(n, 0.003)))
    said = [one for one in heard(inspection) if one[1] != "note"]
    assert said == [("jitter", "warning", [float(n) for n in range(2, 24)])]
    assert finding_of(inspection, "jitter").numbers["diagonals"] == pytest.approx(0.89 * 0.003, rel=0.15)


@pytest.mark.parametrize(("way", "found"), [(0.0004, False), (0.0007, True)])
def test_by_how_much_held_poses_must_tremble(way: float, found: bool, tmp_path: Path) -> None:
    said = {check for check, _, _ in heard(look(tmp_path, shot_of(lambda n: on_twos(n, way))))}
    assert ("jitter" in said) is found


@pytest.mark.parametrize(("numbers", "found"), [((9, 11), False), ((9, 13), False), ((9, 11, 13), True)])
def test_how_many_held_poses_must_tremble(numbers: tuple[int, ...], found: bool, tmp_path: Path) -> None:
    """Each frame in `numbers` is the second frame of a trembling pose. At least three poses must tremble
    (JITTER_HOLDS)."""
    files = shot_of(lambda n: on_twos(n, 0.003, n in numbers))
    assert ("jitter" in {check for check, _, _ in heard(look(tmp_path, files))}) is found


@pytest.mark.parametrize(
    ("held", "numbers", "found"),
    [
        (3, (10, 13), False),
        (3, (10, 13, 16), True),
        (3, range(9, 15), False),
        (3, range(9, 18), True),
        (4, range(8, 16), False),
        (4, range(8, 20), True),
        (3, NUMBERS, True),
        (4, NUMBERS, True),
    ],
)
def test_a_longer_pose_counts_once(held: int, numbers: Collection[int], found: bool, tmp_path: Path) -> None:
    """If only the middle frame of a pose has noise, the points move out and back."""
    assert jittery(tmp_path, lambda n: on_twos(n, 0.003, n in numbers, held=held)) is found


@pytest.mark.parametrize(("also", "found"), [(0.0018, True), (0.0034, False)])
def test_held_poses_that_move_on_by_more_than_they_tremble(also: float, found: bool, tmp_path: Path) -> None:
    """`also` is the root mean square of an additional smooth motion, in diagonals. By hand: the noise of two frames
    differs by 0.003 sqrt(2) = 0.0042 diagonals (root mean square). A smooth field explains a third of this squared
    difference, and all of the additional motion. At least half of the total squared movement must remain unexplained
    (JITTER_HOLD), so `also` may be up to 0.0042 / sqrt(3) = 0.0025."""
    files = shot_of(lambda n: on_twos(n, 0.003, also=also))
    assert ("jitter" in {check for check, _, _ in heard(look(tmp_path, files))}) is found


@pytest.mark.parametrize(("glide", "found"), [(0.0045, False), (0.0065, True)])
def test_how_far_the_motion_must_go_on_between_held_poses(glide: float, found: bool, tmp_path: Path) -> None:
    """Within a pose, the noise moves a vertex by a median distance of 0.89 * 0.003 = 0.0027 diagonals. The step to the
    next pose must be more than twice as long (JITTER_MOVES_ON)."""

    def gliding_on_twos(number: int) -> Mesh:
        mesh = on_twos(number, 0.003, number % 2 == 1, swing=0.0)
        return mesh.edit(positions=mesh.positions + np.array([0.0, 0.0, glide * DIAGONAL * (number // 2)]))

    assert jittery(tmp_path, gliding_on_twos) is found


def test_motion_on_twos_does_not_tremble(tmp_path: Path) -> None:
    assert "jitter" not in {check for check, _, _ in heard(look(tmp_path, shot_of(lambda n: on_twos(n, 0.0))))}
