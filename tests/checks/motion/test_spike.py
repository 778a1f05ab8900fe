"""Tests of the thresholds of `spike`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.sequence.measure.motion_facts import sampled
from tests.helpers.broken.motion import lifted
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import Files, heard, look
from tests.helpers.surfaces import ring, sequence

ACROSS = 12


def fine(number: int) -> Mesh:
    """Return a frame of a ring of 192 vertices, of which only some are sampled."""
    return ring(number, 16, ACROSS)


def apart(vertices: int) -> list[int]:
    """Return the indices of some vertices of a ring. These vertices aren't sampled, and have no neighbours in
    common."""
    seen = set(sampled(vertices).tolist())
    return [
        at for at in range(vertices - 2 * ACROSS) if at not in seen and at // ACROSS % 3 == 0 and at % ACROSS % 3 == 0
    ]


def leaps(folder: Path, files: Files) -> list[tuple[str, list[float]]]:
    """Return the findings of `spike` and `pop`. Leaping vertices also bend faces, which other checks report."""
    return [(check, numbers) for check, _, numbers in heard(look(folder, files)) if check in ("spike", "pop")]


@pytest.mark.parametrize(("diagonals", "found"), [(0.099, False), (0.101, True)])
def test_from_which_distance_a_leap_of_several_frames_is_a_spike(diagonals: float, found: bool, tmp_path: Path) -> None:
    """A part of a healthy object may move a little, wait, and move back. Therefore, the limit is ten times the limit
    for a leap of one frame."""
    leap = lifted(apart(192)[:1], diagonals * float(np.linalg.norm(np.ptp(fine(1).positions, axis=0))))
    said = leaps(tmp_path / "run", sequence(fine, dict.fromkeys([5, 6, 7], leap)))
    assert said == [("spike", [5.0, 6.0, 7.0])] * found
    assert leaps(tmp_path / "frame", sequence(fine, {6: leap})) == [("spike", [6.0])]


@pytest.mark.parametrize(("times", "found"), [(1.29, False), (1.31, True)])
def test_how_much_farther_a_spike_leaps_than_what_tears_around_it(times: float, found: bool, tmp_path: Path) -> None:
    """From frame 4 on, another vertex is displaced. A leap that comes straight back is reported only if it is more than
    1.3 times as long as this displacement (SPIKE_BEYOND). Any other leap is reported only if it is more than twice as
    long as this displacement (SPIKE_FACTOR)."""
    one, other, *_ = apart(192)
    moved = lifted([other], 0.2)
    edits = dict.fromkeys(range(4, 13), moved) | {9: lambda mesh: lifted([one], 0.2 * times)(moved(mesh))}
    assert leaps(tmp_path, sequence(fine, edits)) == [("spike", [9.0])] * found


@pytest.mark.parametrize(
    ("around", "count", "check"), [(16, 3, "spike"), (16, 4, "pop"), (74, 4, "spike"), (74, 5, "pop")]
)
def test_how_many_vertices_are_a_few(around: int, count: int, check: str, tmp_path: Path) -> None:
    """A spike has at most three vertices (SPIKE_FEW) or half a percent of all vertices (SPIKE_SHARE), whichever is
    more. Half a percent of 888 vertices is 4.44."""
    leap = lifted(apart(around * ACROSS)[:count], 0.5)
    said = leaps(tmp_path, sequence(lambda number: ring(number, around, ACROSS), {6: leap}))
    assert said == [(check, [6.0])]


@pytest.mark.parametrize(("diagonals", "found"), [(0.0099, False), (0.0101, True)])
def test_from_which_distance_a_leap_of_one_frame_is_a_spike(diagonals: float, found: bool, tmp_path: Path) -> None:
    """The limit is a hundredth of the diagonal (SPIKE_DIAGONALS). Below two hundredths, a leap is not a pop."""
    leap = lifted(apart(192)[:1], diagonals * float(np.linalg.norm(np.ptp(fine(1).positions, axis=0))))
    assert leaps(tmp_path, sequence(fine, {6: leap})) == [("spike", [6.0])] * found
