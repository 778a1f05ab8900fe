"""Tests of motion checks on a body whose topology changes from frame to frame."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.checks.base.bumps import usual_around
from inspector.checks.base.turned import turned_surfaces
from inspector.checks.motion.noisy_frame import is_rougher
from tests.helpers.meshes import Mesh, sphere
from tests.helpers.sequences import Files, finding_of, frames, heard, look

DIAGONAL = 4.0 * np.sqrt(1.1**2 + 1.0 + 1.3**2)
TIP = 300
Change = Callable[[Floats], Floats]


def drop(time: float) -> Mesh:
    mesh = sphere(16 + round(7 * time) % 5, 24 + round(5 * time) % 7, 2.0)
    fallen = np.array([0.1 * time, 3.0 - 0.003 * time**2, 0.05 * time])
    return mesh.edit(positions=mesh.positions * [1.1, 1.0, 1.3] + fallen)


def falling(times: Sequence[float] = range(24), changes: dict[int, Change] | None = None) -> Files:
    meshes = {number: drop(time) for number, time in enumerate(times, 1)}
    for number, change in (changes or {}).items():
        meshes[number] = meshes[number].edit(positions=change(meshes[number].positions))
    return frames(meshes)


def warned(folder: Path, files: Files) -> list[tuple[str, str, list[float]]]:
    return [one for one in heard(look(folder, files)) if one[1] != "note"]


def lifted(size: float, *vertices: int) -> Change:
    def change(positions: Floats) -> Floats:
        moved, out = positions.copy(), positions - positions.mean(axis=0)
        moved[list(vertices)] += size * DIAGONAL * (out / np.linalg.norm(out, axis=1, keepdims=True))[list(vertices)]
        return moved

    return change


def test_the_healthy_body(tmp_path: Path) -> None:
    assert warned(tmp_path, falling()) == []


@pytest.mark.parametrize(("size", "number"), [(0.02, 12), (0.05, 1), (0.05, 24), (0.3, 9)])
def test_one_vertex_off(size: float, number: int, tmp_path: Path) -> None:
    files = falling(changes={number: lifted(size, TIP)})
    assert warned(tmp_path, files) == [("spike", "warning", [float(number)])]
    finding = finding_of(look(tmp_path, files), "spike")
    assert finding.where[0].element == f"vertex {TIP + 1}"
    # The vertex adds its own offset, and each of its four neighbours seems to be off by a quarter of that offset.
    assert finding.numbers["diagonals"] == pytest.approx(1.25 * size, rel=0.1)


@pytest.mark.parametrize(("size", "found"), [(0.007, False), (0.009, True)])
def test_from_which_size(size: float, found: bool, tmp_path: Path) -> None:
    """The limit is 0.01 diagonals. The measured distance is 1.25 times the displacement, because the displacement also
    changes the offsets of the neighbours."""
    assert bool(warned(tmp_path, falling(changes={12: lifted(size, TIP)}))) is found


def test_some_vertices_off(tmp_path: Path) -> None:
    files = falling(changes={12: lifted(0.1, 60, 110, 170, 210, 260)})
    assert warned(tmp_path, files) == [("spike", "warning", [12.0])]


@pytest.mark.parametrize(("share", "found"), [(0.045, True), (0.055, False)])
def test_how_many_vertices_are_off(share: float, found: bool, tmp_path: Path) -> None:
    vertices = len(drop(11.0).positions)
    some = np.linspace(20, vertices - 20, round(share * vertices)).astype(int).tolist()
    said = {check for check, _, _ in warned(tmp_path, falling(changes={12: lifted(0.05, *some)}))}
    assert ("spike" in said) is found


@pytest.mark.parametrize(("others", "way", "found"), [([1.0], 2.1, False), ([1.0], 3.1, True), ([0.5, 1.0], 2.5, True)])
def test_what_is_farther_off_than_usual(others: list[float], way: float, found: bool) -> None:
    """The largest distance in a frame is unusual if it exceeds twice the maximum, and three times the median, of the
    largest distances in the surrounding frames."""
    ways = np.array([others[0]] * 8 + [way] + [others[-1]] + [others[0]] * 6)
    assert bool(way > usual_around(ways, 8)) is found


@pytest.mark.parametrize(("way", "found"), [(1.9, False), (2.1, True)])
def test_twice_as_far_as_the_farthest(way: float, found: bool) -> None:
    ways = np.array([0.3] * 8 + [way, 1.0] + [0.3] * 6)
    assert bool(way > usual_around(ways, 8)) is found


@pytest.mark.parametrize("frames_around", [3, 4])
def test_how_many_frames_must_be_known(frames_around: int) -> None:
    assert np.isfinite(usual_around(np.array([5.0] + [1.0] * frames_around), 0)) == (frames_around == 4)


@pytest.mark.parametrize(
    ("rough", "sharp", "found"), [(1.05, 2.0, False), (1.15, 2.0, True), (2.0, 1.4, False), (2.0, 1.6, True)]
)
def test_what_is_rougher(rough: float, sharp: float, found: bool) -> None:
    """A frame counts as rougher only if it is rougher than every nearby frame by two measures. The roughness divided by
    the mean area of the faces must be more than 1.5 times as large as in every nearby frame. The roughness divided by
    the diagonal must be more than 1.1 times as large as in every nearby frame."""
    usual = np.full(17, 0.01)
    one, other = usual.copy(), usual.copy()
    one[8], other[8] = 0.01 * rough, 0.01 * sharp
    assert is_rougher(one, other, 8) is found


def test_noise_on_one_frame(tmp_path: Path) -> None:
    noise = np.random.default_rng(1).normal(0.0, 0.003 * DIAGONAL / np.sqrt(3.0), (2000, 3))
    files = falling(changes={12: lambda positions: positions + noise[: len(positions)]})
    assert warned(tmp_path, files) == [("noisy-frame", "warning", [12.0])]


@pytest.mark.parametrize(("size", "check"), [(0.025, "noisy-frame"), (0.03, "spike")])
def test_a_vertex_that_is_off_by_more_than_the_noise(size: float, check: str, tmp_path: Path) -> None:
    """The vertex is 7.0 or 8.5 times as far off as the median vertex. The limit is 8 (NOISE_OF_BUMP)."""
    noise = np.random.default_rng(1).normal(0.0, 0.003 * DIAGONAL / np.sqrt(3.0), (2000, 3))
    files = falling(changes={12: lambda positions: lifted(size, TIP)(positions + noise[: len(positions)])})
    assert warned(tmp_path, files) == [(check, "warning", [12.0])]


@pytest.mark.parametrize("count", [2, 3])
def test_several_vertices_are_no_noise(count: int, tmp_path: Path) -> None:
    assert {
        check for check, _, _ in warned(tmp_path, falling(changes={12: lifted(0.1, *range(60, 300, 240 // count))}))
    } == {"spike"}


def test_half_speed(tmp_path: Path) -> None:
    times = [*range(8), *(8 + step / 2 for step in range(8)), *range(12, 22)]
    ((check, severity, numbers),) = warned(tmp_path, falling(times))
    assert (check, severity) == ("pace-change", "warning")
    assert set(numbers) <= set(range(8, 18))


def test_a_dropped_frame(tmp_path: Path) -> None:
    ((check, _, _),) = warned(tmp_path, falling([time for time in range(25) if time != 11]))
    assert check == "dropped-frames"


def test_swapped_frames(tmp_path: Path) -> None:
    times = [*range(10), 11, 10, *range(12, 24)]
    assert warned(tmp_path, falling(times)) == [("swapped-frames", "warning", [11.0, 12.0])]


def test_a_quarter_turn_about_x(tmp_path: Path) -> None:
    files = falling(changes={12: lambda positions: positions @ np.array([[1.0, 0, 0], [0, 0, 1], [0, -1, 0]])})
    assert warned(tmp_path, files) == [("up-axis-suspect", "error", [12.0])]


def ends(centre: Floats, root: Floats) -> Floats:
    return np.concatenate([centre + root, centre - root])


@pytest.mark.parametrize(
    ("high", "miss", "found"),
    [
        (0.06, 0.0, False),  # TURN_MISS: without a turn, it is off by 0.085, less than 0.1 of its spread of 1
        (0.08, 0.0, True),
        (1.0, 0.09, True),
        (1.0, 0.11, False),
        (0.1, 0.078, True),  # TURN_BETTER: 2**2 * miss**2 = 2 * 0.1**2 + miss**2 if `miss` is 0.0816
        (0.1, 0.085, False),
    ],
)
def test_what_is_turned(high: float, miss: float, found: bool) -> None:
    """One frame shows the surface turned about x and displaced by `miss` along x. The surface is described by an
    ellipsoid with equal axes along y and z, so the turn changes only the position of the ellipsoid's centre."""
    root = np.diag([0.8, 0.6 / np.sqrt(2.0), 0.6 / np.sqrt(2.0)])
    followed = np.stack([ends(np.array([0.0, high, 0.0]), root)] * 9)
    followed[4] = ends(np.array([miss, 0.0, high]), root)
    assert turned_surfaces(followed) == ((4,) if found else ())
