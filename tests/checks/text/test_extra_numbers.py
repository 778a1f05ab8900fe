"""Tests of `extra-numbers`. Source of the weight w in `v x y z w`: format document, appendix B1."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(
        tmp_path,
        "extra-numbers",
        shot() | {"manta.0005.obj": TEXT.replace(b"\nv", b" 1 0 0\nv", 2).replace(b"manta 1 0 0", b"manta")},
    )
    assert said == [("extra-numbers", "warning", [5.0])]
    same_form(inspection, "extra-numbers", "partial-extras")
