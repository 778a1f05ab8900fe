"""Tests of `executable-statements`. Source: format document, appendix B1, "General statement"."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


@pytest.mark.parametrize(
    ("text", "severity", "kind"),
    [
        (TEXT + b"call other.obj\n", "warning", "executable-statement"),
        (TEXT + b"csh touch x\n", "warning", "executable-statement"),
    ],
)
def test_silent_then_broken(text: bytes, severity: str, kind: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "executable-statements", shot() | {"manta.0005.obj": text})
    assert said == [("executable-statements", severity, [5.0])]
    same_form(inspection, "executable-statements", kind)
