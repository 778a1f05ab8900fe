"""Tests of `normal-index-range`. Numbering starts at 1 (format document, appendix B1)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import FACE, TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": TEXT.replace(FACE, b"f 1/1/9 2/2/9 7/5/9 6/4/9")}
    said, inspection = broken(tmp_path, "normal-index-range", files)
    assert said == [("normal-index-range", "warning", [5.0])]
    same_form(inspection, "normal-index-range", "vn-index-range")
