"""Tests of `deprecated-statements`. Source: format document, appendix B1, "Superseded statements"."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import FACE, TEXT, broken, same_form
from tests.helpers.sequences import shot


@pytest.mark.parametrize(
    ("text", "severity", "kind"),
    [
        (TEXT.replace(FACE, b"fo" + FACE[1:]), "warning", "deprecated-statement"),
        (TEXT + b"bsp 1 2 3 4 5 6 7 8 9 10 11 12 13 14 15 16\n", "warning", "deprecated-statement"),
    ],
)
def test_silent_then_broken(text: bytes, severity: str, kind: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "deprecated-statements", shot() | {"manta.0005.obj": text})
    assert said == [("deprecated-statements", severity, [5.0])]
    same_form(inspection, "deprecated-statements", kind)
