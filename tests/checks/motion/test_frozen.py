"""Tests of `frozen`. After a hold, the motion continues at its pace; after a frozen frame, one longer step catches up
with the motion (common practice, no source)."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest

from inspector.checks.base.stillness import motion_went_on
from tests.helpers.broken.motion import stuck
from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, frames, heard, invented, look, shot


@pytest.mark.parametrize("numbers", [(5,), (5, 6), (5, 6, 7), (3,), (10,)])
def test_the_motion_went_on(numbers: tuple[int, ...], tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "frozen", stuck(*numbers))
    assert said == [("frozen", "warning", [float(number) for number in numbers])]
    assert finding_of(inspection, "frozen").fixes == ("fill-frames",)


@pytest.mark.parametrize("growth", [1.02, 1.08])
def test_a_copy_of_a_frame_has_its_size(growth: float, tmp_path: Path) -> None:
    """The object grows by a factor of 1.02 or 1.08 per frame, so a copy of the previous frame is too small by this
    factor. Above a factor of 1.05, the copy could also count as scaled (SCALED)."""

    def grown(number: int) -> Mesh:
        mesh = wing(number)
        return mesh.edit(positions=mesh.positions * growth**number)

    files = MATERIALS | frames({number: grown(5 if number == 6 else number) for number in range(1, 13)})
    assert [one for one in heard(look(tmp_path, files)) if one[1] != "note"] == [("frozen", "warning", [6.0])]


def test_two_frames_in_two_places_are_one_finding(tmp_path: Path) -> None:
    files = stuck(4) | frames({9: wing(8)})
    assert heard(look(tmp_path, files)) == [("frozen", "warning", [4.0, 9.0])]


def test_a_hold_is_a_note(tmp_path: Path) -> None:
    times = [1, 2, 3, 4, 4, 4, 5, 6, 7, 8, 9, 10]
    files = MATERIALS | frames({number: wing(time) for number, time in enumerate(times, 1)})
    assert heard(look(tmp_path, files)) == [("frozen", "note", [5.0, 6.0])]


def test_the_last_frames_equal_are_a_hold(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot({12: lambda _: wing(11)}))) == [("frozen", "note", [12.0])]


def test_a_hold_in_front_of_a_gap_is_not_frozen(tmp_path: Path) -> None:
    """The step after the hold is long only because the next frame is missing."""
    files = stuck(5)
    del files["manta.0006.obj"]
    assert heard(look(tmp_path, files)) == [("frozen", "note", [5.0]), ("missing-frames", "error", [6.0])]


def test_a_frame_that_was_exported_over_an_invented_one_is_frozen(tmp_path: Path) -> None:
    files = stuck(5)
    files |= invented("manta.0005.obj", files["manta.0006.obj"], "hold")
    assert heard(look(tmp_path, files)) == [("frozen", "warning", [5.0])]


def posed(times: Sequence[float]) -> dict[str, bytes]:
    return MATERIALS | frames({number: wing(time) for number, time in enumerate(times, 1)})


def test_pairs_amid_a_motion_on_ones(tmp_path: Path) -> None:
    times = [*range(12), 12, 12, 14, 14, 16, 16, 18, 18, *range(20, 32)]
    assert heard(look(tmp_path, posed(times))) == [("frozen", "warning", [14.0, 16.0, 18.0, 20.0])]


def test_a_motion_that_goes_over_to_twos_is_drawn_so(tmp_path: Path) -> None:
    times = [*range(12), *(2 * (at // 2) for at in range(12, 32))]
    assert [severity for _, severity, _ in heard(look(tmp_path, posed(times)))] == ["note"]


def test_a_late_frame_on_twos(tmp_path: Path) -> None:
    """The poses are a a a b c c instead of a a b b c c: the first frame of b shows a."""
    times = [2 * (at // 2) for at in range(24)]
    times[12] = times[11]
    said = [one for one in heard(look(tmp_path, posed(times))) if one[1] != "note"]
    assert said == [("frozen", "warning", [13.0])]


@pytest.mark.parametrize(("step", "went_on"), [(3.9, False), (4.1, True)])
def test_a_jump_beside_it_says_nothing_about_the_pace(step: float, went_on: bool) -> None:
    """Of two steps beside a frozen frame, the longer is a jump if it is more than four times as long as the other
    (PACE_SPREAD)."""
    steps = np.array([np.nan, 1.0, 1.0, 0.0, 2.0, 1.0, step])
    assert motion_went_on(steps, 3, 4) is went_on
