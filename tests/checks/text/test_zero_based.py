"""Tests of `zero-based`. Some exporters count from 0, as most programming languages do (tinyobjloader, issue 140)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.text import from_zero
from tests.helpers.one_thing import FACE, TEXT, broken, every
from tests.helpers.sequences import finding_of, heard, look, shot


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "zero-based", every(from_zero))
    assert said == [("zero-based", "error", [float(n) for n in range(1, 13)])]
    assert finding_of(inspection, "zero-based").where[0].element == "face 1"


def test_in_one_frame_only(tmp_path: Path) -> None:
    said, _ = broken(tmp_path, "zero-based", shot() | {"manta.0005.obj": from_zero(TEXT)})
    assert said == [("zero-based", "error", [5.0])]


def test_a_single_zero_is_a_bad_index(tmp_path: Path) -> None:
    text = TEXT.replace(FACE, b"f 0/1 2/2 7/5 6/4")
    assert heard(look(tmp_path, shot() | {"manta.0005.obj": text})) == [("index-range", "error", [5.0])]
