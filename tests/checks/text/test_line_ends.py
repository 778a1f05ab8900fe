"""Tests of `line-ends`. The line endings in these tests were seen in public data."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


@pytest.mark.parametrize(
    ("text", "severity", "kind"),
    [
        (TEXT.replace(b"\n", b"\r"), "warning", "bare-returns"),
        (TEXT.replace(b"\n", b"\r\n", 5), "warning", "mixed-newlines"),
        (TEXT[:-1], "note", "no-final-newline"),
    ],
)
def test_silent_then_broken(text: bytes, severity: str, kind: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "line-ends", shot() | {"manta.0005.obj": text})
    assert said == [("line-ends", severity, [5.0])]
    same_form(inspection, "line-ends", kind)
