"""Tests of `dropped-frames`."""

from __future__ import annotations

from collections.abc import Callable, Collection
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.meshes import Mesh, wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Files, along_x, finding_of, frames, heard, look


def renumbered(dropped: Collection[int], of: Callable[[int], Mesh] = wing, length: int = 24) -> Files:
    left = [n for n in range(1, length + 1) if n not in dropped]
    return MATERIALS | frames({number: of(n) for number, n in enumerate(left, 1)})


def slow(number: int) -> Mesh:
    return wing(number / 4)


@pytest.mark.parametrize(("dropped", "steps"), [([10], 2), ([10, 11], 3), ([10, 11, 12], 4)])
def test_frames_dropped_in_a_row(dropped: list[int], steps: int, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "dropped-frames", renumbered(dropped, slow), good=renumbered([], slow))
    assert said == [("dropped-frames", "warning", [10.0])]
    finding = finding_of(inspection, "dropped-frames")
    assert finding.numbers["steps"] == pytest.approx(steps, rel=0.1)
    assert finding.numbers["dropped"] == len(dropped)


def test_in_two_places(tmp_path: Path) -> None:
    said = heard(look(tmp_path, renumbered([8, 16], slow)))
    assert said == [("dropped-frames", "warning", [8.0, 15.0])]


def test_of_a_fast_mover_it_is_no_jump(tmp_path: Path) -> None:
    """The object moves by 4 units per frame. Where four frames are dropped, it moves by 20 units, and only
    `dropped-frames` reports this."""
    places = [4.0 * n for n in range(30) if not 10 <= n < 14]
    assert heard(look(tmp_path, along_x(places))) == [("dropped-frames", "warning", [11.0])]


def test_a_jump_that_stays_is_no_dropped_frame(tmp_path: Path) -> None:
    places = [[0.2 * n, 2.0 * (n > 12), 0] for n in range(24)]
    files = MATERIALS | frames(
        {n: wing(0).edit(positions=wing(0).positions + np.array(place)) for n, place in enumerate(places, 1)}
    )
    assert {check for check, _, _ in heard(look(tmp_path, files))} == {"centre-jump"}


@pytest.mark.parametrize(("dropped", "found"), [([11, 25], True), ([11, 19, 27], False)])
def test_a_pose_cut_short_on_twos(dropped: list[int], found: bool, tmp_path: Path) -> None:
    """Each dropped frame leaves a pose that is held for one frame instead of two. Dropped frames are reported only if
    at least nine tenths of the 22 poses inside the motion are held for two frames (CADENCE_KEPT)."""
    said = heard(look(tmp_path, renumbered(dropped, lambda number: slow(2 * (number // 2)), 48)))
    assert ("dropped-frames" in {check for check, _, _ in said}) is found


def test_frames_are_ascending(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A pose is cut short near frame 11, and a frame is dropped near frame 40."""
    monkeypatch.setattr("inspector.checks.files.dropped_frames.dropped", lambda _: {40: 1})
    said = heard(look(tmp_path, renumbered([11], lambda number: slow(2 * (number // 2)), 48)))
    (found,) = [numbers for check, _, numbers in said if check == "dropped-frames"]
    assert len(found) == 2
    assert found == sorted(found)
