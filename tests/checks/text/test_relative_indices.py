"""Tests of `relative-indices`. The index -1 refers to the last vertex (format document, appendix B1)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import FACE, TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": TEXT.replace(FACE, b"f -20/-24 2/2 7/5 6/4")}
    said, inspection = broken(tmp_path, "relative-indices", files)
    assert said == [("relative-indices", "note", [5.0])]
    same_form(inspection, "relative-indices", "relative-index")
