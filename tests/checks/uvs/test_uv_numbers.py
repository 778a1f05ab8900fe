"""Tests of `uv-numbers`. UVs that are not finite are written as C libraries write them (seen in public data)."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.broken.uvs import FOURTH
from tests.helpers.one_thing import TEXT, broken
from tests.helpers.sequences import finding_of, shot


@pytest.mark.parametrize("line", [b"vt nan 0.333333", b"vt 0.0 inf", b"vt -1.#IND 0.333333", b"vt 1e999 0"])
def test_one_uv(line: bytes, tmp_path: Path) -> None:
    text = TEXT.replace(FOURTH, line)
    assert text != TEXT
    said, inspection = broken(tmp_path, "uv-numbers", shot() | {"manta.0005.obj": text})
    assert said == [("uv-numbers", "error", [5.0])]
    finding = finding_of(inspection, "uv-numbers")
    (where,) = finding.where
    assert where.line is not None
    assert TEXT.split(b"\n")[where.line - 1] == FOURTH
    assert (where.element, finding.fixes) == ("UV 4", ("uv-restore",))
