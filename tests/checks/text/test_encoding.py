"""Tests of `encoding`. Source: The Unicode Standard, chapter 3."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot


@pytest.mark.parametrize(
    ("text", "severity", "kind"),
    [
        (b"\xef\xbb\xbf" + TEXT, "warning", "byte-order-mark"),
        (TEXT.decode().encode("utf-16"), "warning", "utf-16"),
        (TEXT.decode().encode("utf-16-be"), "warning", "utf-16"),
        (TEXT.decode().encode("utf-16-le"), "warning", "utf-16"),
        (TEXT + b"# Gr\xfc\xdfe\n", "warning", "not-utf8"),
    ],
)
def test_silent_then_broken(text: bytes, severity: str, kind: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "encoding", shot() | {"manta.0005.obj": text})
    assert said == [("encoding", severity, [5.0])]
    same_form(inspection, "encoding", kind)
