"""Tests of `index-range` and `uv-index-range`. Numbering starts at 1 (format document)."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, shot


@pytest.mark.parametrize(("number", "kind"), [(0, "index-zero"), (21, "index-range"), (5_000_000_000, "index-range")])
def test_a_vertex_that_is_not_there(number: int, kind: str, tmp_path: Path) -> None:
    text = shot()["manta.0005.obj"].replace(b"f 4/14 5/15 10/18 9/17", b"f 4/14 5/15 10/18 %d/17" % number)
    said, inspection = broken(tmp_path, "index-range", shot() | {"manta.0005.obj": text})
    assert said == [("index-range", "error", [5.0])]
    finding = finding_of(inspection, "index-range")
    assert finding.numbers == {"kind": kind, "places": 1}
    (where,) = finding.where
    assert text.split(b"\n")[(where.line or 0) - 1].endswith(b" %d/17" % number)
    assert where.element == "face 4"


@pytest.mark.parametrize("number", [0, 25, 5_000_000_000])
def test_a_uv_that_is_not_there(number: int, tmp_path: Path) -> None:
    text = shot()["manta.0005.obj"].replace(b"f 4/14 5/15 10/18 9/17", b"f 4/14 5/15 10/18 9/%d" % number)
    said, inspection = broken(tmp_path, "uv-index-range", shot() | {"manta.0005.obj": text})
    assert said == [("uv-index-range", "error", [5.0])]
    assert finding_of(inspection, "uv-index-range").where[0].element == "face 4"
