"""Tests of `write-times`. The expected findings follow common practice (no source)."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, shot, write
from tests.helpers.written import HOUR, WEEK, rewritten


@pytest.mark.parametrize(
    ("time", "numbers", "words"),
    [
        (lambda n: 5 * n + WEEK * (n in (4, 5)), [4.0, 5.0], "2 frames were written long after the others"),
        (lambda n: 5 * n + WEEK * (n > 9), [10.0, 11.0, 12.0], "3 frames were written long after the others"),
        (lambda n: 5 * n - WEEK * (n > 9), [10.0, 11.0, 12.0], "3 frames were written long before the others"),
        (
            lambda n: 5 * n + WEEK * (n % 4 - 2) * (n < 4),
            [1.0, 3.0],
            "2 frames were written long before or after the others",
        ),
    ],
)
def test_silent_then_broken(time: Callable[[int], float], numbers: list[float], words: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "write-times", shot(), inspect=lambda folder: rewritten(folder, time))
    assert said == [("write-times", "note", numbers)]
    assert finding_of(inspection, "write-times").message == words


@pytest.mark.parametrize("time", [lambda n: 40 * (n * 7 % 12), lambda _: 0, lambda n: HOUR * n, lambda n: -5 * n])
def test_one_go_is_healthy(time: Callable[[int], float], tmp_path: Path) -> None:
    assert heard(rewritten(write(tmp_path, shot()), time)) == []


@pytest.mark.parametrize(("hours", "found"), [(0.9, False), (1.1, True)])
def test_a_pause_that_a_queue_may_make(hours: float, found: bool, tmp_path: Path) -> None:
    inspection = rewritten(write(tmp_path, shot()), lambda n: 5 * n + hours * HOUR * (n in (4, 5)))
    assert heard(inspection) == ([("write-times", "note", [4.0, 5.0])] if found else [])


@pytest.mark.parametrize(("times", "found"), [(9.5, False), (10.5, True)])
def test_a_pause_among_pauses(times: float, found: bool, tmp_path: Path) -> None:
    """The files are written at intervals of 1,000 s, except for one interval that is 9.5 or 10.5 times as long. Above a
    factor of 10, the interval separates two exports (SEAM_PAUSES)."""
    inspection = rewritten(write(tmp_path, shot()), lambda n: 1000 * n + 1000 * (times - 1) * (n > 9))
    assert heard(inspection) == ([("write-times", "note", [10.0, 11.0, 12.0])] if found else [])
