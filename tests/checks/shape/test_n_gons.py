"""Tests of `n-gons`. Some readers count corners in one byte (tinyobjloader, issue 150)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.shape import with_ring
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "n-gons", with_ring(256))
    assert said == [("n-gons", "warning", [float(n) for n in range(1, 13)])]
    finding = finding_of(inspection, "n-gons")
    assert (finding.numbers, finding.where[0].element) == ({"kind": "n-gons", "places": 12}, "face 13")


def test_255_corners_still_fit_a_byte(tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_ring(255))) == []
