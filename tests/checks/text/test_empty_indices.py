"""Tests of `empty-indices`. Some readers replace a missing index with the next corner's index (seen in public data)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import FACE, TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    files = shot() | {"manta.0005.obj": TEXT.replace(FACE, b"f 1/1/ 2/2/ 7/5/ 6/4/")}
    said, inspection = broken(tmp_path, "empty-indices", files)
    assert said == [("empty-indices", "warning", [5.0])]
    same_form(inspection, "empty-indices", "empty-index")
