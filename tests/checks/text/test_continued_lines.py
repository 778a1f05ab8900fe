"""Tests of `continued-lines`. Source: format document, appendix B1, the line continuation character."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import FACE, TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": TEXT.replace(FACE, b"f 1/1 2/2 \\\n7/5 6/4")}
    said, inspection = broken(tmp_path, "continued-lines", files)
    assert said == [("continued-lines", "note", [5.0])]
    same_form(inspection, "continued-lines", "continued-line")
