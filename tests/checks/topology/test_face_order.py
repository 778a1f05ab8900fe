"""Tests of `face-order`. Writers that use a hash table change the order of the faces (recalled from memory, without a
source)."""

from __future__ import annotations

from pathlib import Path

from tests.helpers.broken.topology import last_first
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, shot


def test_another_order(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "face-order", shot({5: last_first, 7: last_first}))
    assert said == [("face-order", "warning", [5.0, 7.0])]
    finding = finding_of(inspection, "face-order")
    assert finding.numbers["variants"] == 1
    first, second = finding.where
    assert (first.file.raw, second.file.raw) == (b"manta.0005.obj", b"manta.0007.obj")
    text = shot({5: last_first})["manta.0005.obj"].split(b"\n")
    usual = shot()["manta.0005.obj"].split(b"\n")
    line = (first.line or 0) - 1
    assert text[line].startswith(b"f ")
    assert text[line] != usual[line]
    assert text[:line] == usual[:line]
