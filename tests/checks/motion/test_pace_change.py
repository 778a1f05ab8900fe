"""Tests of `pace-change`. An animator eases a motion in and out; a time warp or a wrong frame rate changes the steps
suddenly (common practice, no source)."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

import numpy as np
import pytest

from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, Files, frames, heard, look

Pace = Callable[[float], float]


def timed(times: Sequence[float]) -> Files:
    return MATERIALS | frames({number: wing(time) for number, time in enumerate(times, 1)})


def at_paces(*paces: tuple[int, float]) -> Files:
    """Return a motion whose pace changes. Each pair consists of a number of frames, and the length of their steps as a
    multiple of the usual step."""
    steps = [pace for count, pace in paces for _ in range(count)]
    return timed(np.cumsum([0.0, *steps]).tolist())


def warned(folder: Path, files: Files) -> set[str]:
    return {check for check, severity, _ in heard(look(folder, files)) if severity != "note"}


def test_half_speed(tmp_path: Path) -> None:
    files, good = at_paces((8, 1), (8, 0.5), (8, 1)), at_paces((24, 1))
    said, _ = broken(tmp_path, "pace-change", files, good=good)
    assert said == [("pace-change", "warning", [float(number) for number in range(10, 18)])]


@pytest.mark.parametrize(("frames_at_half", "found"), [(3, False), (4, True), (13, False)])
def test_of_24_frames_four_to_half_of_all(frames_at_half: int, found: bool, tmp_path: Path) -> None:
    files = at_paces((7, 1), (frames_at_half, 0.5), (17 - frames_at_half, 1))
    assert ("pace-change" in warned(tmp_path, files)) is found


@pytest.mark.parametrize(("pace", "found"), [(0.35, False), (0.45, True), (0.55, True), (0.65, False)])
def test_about_half(pace: float, found: bool, tmp_path: Path) -> None:
    assert ("pace-change" in warned(tmp_path, at_paces((8, 1), (8, pace), (8, 1)))) is found


def test_eased_to_half_speed_and_back_is_meant(tmp_path: Path) -> None:
    files = at_paces((6, 1), (1, 0.85), (1, 0.65), (8, 0.5), (1, 0.65), (1, 0.85), (6, 1))
    assert warned(tmp_path, files) == set()


def test_half_speed_from_one_frame_on_is_a_pace(tmp_path: Path) -> None:
    assert "pace-change" not in warned(tmp_path, at_paces((12, 1), (12, 0.5)))
