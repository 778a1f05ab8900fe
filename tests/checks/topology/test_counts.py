"""Tests of `vertex-count` and `face-count`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.topology import one_face_less, one_vertex_more
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


def test_a_vertex_more(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "vertex-count", shot({5: one_vertex_more}))
    assert said == [("vertex-count", "error", [5.0])]
    assert finding_of(inspection, "vertex-count").numbers == {"reference": 20, "least": 21, "most": 21}


def test_a_face_less(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "face-count", shot({5: one_face_less}))
    assert said == [("face-count", "error", [5.0])]
    assert finding_of(inspection, "face-count").numbers == {"reference": 12, "least": 11, "most": 11}


def test_an_odd_first_frame_does_not_blame_all_others(tmp_path: Path) -> None:
    inspection = look(tmp_path, shot({1: one_vertex_more}))
    assert heard(inspection) == [("vertex-count", "error", [1.0])]
    assert inspection.series.reference_index == 1


def test_frames_that_alternate_between_two_counts_are_no_simulation(tmp_path: Path) -> None:
    files = shot(dict.fromkeys(range(2, 13, 2), one_vertex_more))
    assert heard(look(tmp_path, files)) == [("vertex-count", "error", [2.0, 4.0, 6.0, 8.0, 10.0, 12.0])]


def test_one_of_three_frames_is_an_error_and_no_simulation(tmp_path: Path) -> None:
    files = shot({2: one_vertex_more}, numbers=[1, 2, 3])
    assert heard(look(tmp_path, files)) == [("vertex-count", "error", [2.0])]
