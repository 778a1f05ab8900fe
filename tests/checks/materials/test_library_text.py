"""Tests of `library-text`. Source: MTL File Formats 4.2, 1995."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, look, shot

GOOD = MATERIALS["manta.mtl"]

TEXTS = {
    "empty": (b"", "error"),
    "no-material": (b"# exported\n", "error"),
    "nul-run": (GOOD + b"\0" * 40 + b"\n", "error"),
    "byte-order-mark": (b"\xef\xbb\xbf" + GOOD, "warning"),
    "utf-16": (GOOD.decode().encode("utf-16"), "warning"),
    "before-material": (b"Ka 0 0 0\n" + GOOD, "warning"),
    "map-without-name": (GOOD + b"map_Ks\n", "warning"),
    "unnamed-material": (GOOD + b"newmtl\n", "warning"),
}


@pytest.mark.parametrize("kind", TEXTS)
def test_one_fault(kind: str, tmp_path: Path) -> None:
    text, severity = TEXTS[kind]
    said, inspection = broken(tmp_path, "library-text", shot() | {"manta.mtl": text})
    assert said == [("library-text", severity, ALL)]
    finding = finding_of(inspection, "library-text")
    assert finding.numbers["kind"] == kind
    assert {(where.file.raw, where.line is None) for where in finding.where} == {(b"manta.mtl", False)}


def test_thousands_of_lines_are_one_finding(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "library-text", shot() | {"manta.mtl": b"Kd 1 0 0\n" * 3000 + GOOD})
    assert said == [("library-text", "warning", ALL)]
    assert len(finding_of(inspection, "library-text").where) == 5


@pytest.mark.parametrize("kind", ["empty", "no-material"])
def test_an_empty_library_harms_only_faces_with_a_material(kind: str, tmp_path: Path) -> None:
    files = {name: data.replace(b"usemtl skin\n", b"") for name, data in shot().items()}
    assert files != shot()
    finding = finding_of(look(tmp_path, files | {"manta.mtl": TEXTS[kind][0]}), "library-text")
    assert finding.severity.word == "warning"
