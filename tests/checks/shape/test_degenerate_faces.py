"""Tests of `degenerate-faces`. A face has at least three corners (format document, appendix B1)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": TEXT + b"f 1/1 2/2\n"}
    more = {"face-count": "there is a face more than on the other frames"}
    said, inspection = broken(tmp_path, "degenerate-faces", files, companions=more)
    assert said == [("degenerate-faces", "error", [5.0]), ("face-count", "error", [5.0])]
    same_form(inspection, "degenerate-faces", "degenerate-face")
