"""n-gons: more corners than one byte counts (format facts, section 3: tinyobjloader#150)."""

from __future__ import annotations

from math import cos, sin, tau
from pathlib import Path

from tests.helpers.one_thing import broken, every
from tests.helpers.sequences import Files, finding_of, heard, look


def with_ring(corners: int) -> Files:
    """The healthy shot with one face more: a ring of vertices of its own, and of UVs beside the islands."""
    ring = [(cos(tau * at / corners), sin(tau * at / corners)) for at in range(corners)]
    lines = b"".join(b"v %.6f %.6f 0.000000\n" % at for at in ring)
    uvs = b"".join(b"vt %.6f %.6f\n" % (0.95 + 0.04 * x, 0.5 + 0.04 * y) for x, y in ring)
    face = b"f" + b"".join(b" %d/%d" % (21 + at, 25 + at) for at in range(corners)) + b"\n"
    return every(lambda text: text.replace(b"vt", lines + b"vt", 1).replace(b"s 1", uvs + b"s 1") + face)


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "n-gons", with_ring(256))
    assert said == [("n-gons", "warning", [float(n) for n in range(1, 13)])]
    finding = finding_of(inspection, "n-gons")
    assert (finding.numbers, finding.where[0].element) == ({"kind": "n-gons", "places": 12}, "face 13")


def test_255_corners_still_fit_a_byte(tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_ring(255))) == []
