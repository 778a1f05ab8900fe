"""Tests of `step-change`. The expected findings follow common practice (no source)."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look, shot


def test_silent_then_broken(tmp_path: Path) -> None:
    files = shot(numbers=[*range(1, 9), *range(8, 21, 2)])
    lacking = {"missing-frames": "what the coarser stretch lacks against the other"}
    said, inspection = broken(tmp_path, "step-change", files, companions=lacking)
    assert said == [
        ("missing-frames", "error", [9.0, 11.0, 13.0, 15.0, 17.0, 19.0]),
        ("step-change", "warning", [8.0, 10.0, 12.0, 14.0, 16.0, 18.0, 20.0]),
    ]
    finding = finding_of(inspection, "step-change")
    assert finding.message == "the frame step changes: 1-8 in steps of 1, 8-20 in steps of 2"
    assert finding.numbers == {"smallest": 1.0, "largest": 2.0}


def test_the_message_counts_the_ranges_that_it_does_not_list(tmp_path: Path) -> None:
    numbers = [*range(1, 9), *range(10, 21, 2), *range(21, 29), *range(30, 41, 2), *range(41, 49), *range(50, 61, 2)]
    found = finding_of(look(tmp_path, shot(numbers=numbers)), "step-change")
    assert found.message.endswith("28-40 in steps of 2, and 2 more ranges")


@pytest.mark.parametrize(
    "numbers",
    [[n for n in range(1, 25) if n not in (5, 9, 10, 17)], [1, 3, 5, 7, 8, 9, 11, 13, 15], [1, 2, 3, 4, 10, 12, 14]],
    ids=["missing ones", "a few frames between", "short stretches"],
)
def test_missing_frames_are_no_other_step(numbers: Iterable[int], tmp_path: Path) -> None:
    assert "step-change" not in {check for check, _, _ in heard(look(tmp_path, shot(numbers=numbers)))}


def test_uneven_sub_frames_are_no_other_step(tmp_path: Path) -> None:
    files = {f"manta.{n:04}{part}.obj": wing(n).text() for n in range(1, 9) for part in ("", ".25", ".75")}
    assert "step-change" not in {check for check, _, _ in heard(look(tmp_path, MATERIALS | files))}
