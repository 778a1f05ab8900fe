"""Tests of `mixed-corners`. All corners of a face must have the same form (format document, appendix B1)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import FACE, TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(
        tmp_path,
        "mixed-corners",
        shot() | {"manta.0005.obj": TEXT.replace(FACE, b"f 1/1/1 2/2 7/5 6/4").replace(b"usemtl", b"vn 0 1 0\nusemtl")},
    )
    assert said == [("mixed-corners", "error", [5.0])]
    same_form(inspection, "mixed-corners", "mixed-corners")
