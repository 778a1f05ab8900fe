"""Tests of `unknown-statements`."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "unknown-statements", shot() | {"manta.0005.obj": TEXT + b"glow 3\n"})
    assert said == [("unknown-statements", "warning", [5.0])]
    same_form(inspection, "unknown-statements", "unknown-statement")
