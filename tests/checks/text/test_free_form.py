"""Tests of `free-form`. Source: format document, appendix B1 (p, l, curv and surf)."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


@pytest.mark.parametrize(
    ("text", "severity", "kind"),
    [
        (TEXT + b"l 1 2 3\n", "note", "not-polygonal"),
        (TEXT + b"p 1 2\n", "note", "not-polygonal"),
        (TEXT + b"cstype bezier\ndeg 3\ncurv 0 1 1 2 3 4\nparm u 0 1\nend\n", "warning", "free-form"),
    ],
)
def test_silent_then_broken(text: bytes, severity: str, kind: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "free-form", shot() | {"manta.0005.obj": text})
    assert said == [("free-form", severity, [5.0])]
    same_form(inspection, "free-form", kind)
