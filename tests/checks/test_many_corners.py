"""many-corners: more corners than one byte counts (format facts, section 3: tinyobjloader#150)."""

from __future__ import annotations

from math import cos, sin
from pathlib import Path

from tests.checks.one_thing import broken, every
from tests.helpers.sequences import finding_of, heard, look


def test_silent_then_broken(tmp_path: Path) -> None:
    """One face in the place of a corner's: 256 corners in a ring of vertices of their own."""
    ring = b"".join(b"v %.6f %.6f 0.000000\n" % (cos(at), sin(at)) for at in range(256))
    face = b"f" + b"".join(b" %d/1" % at for at in range(21, 277)) + b"\n"
    said, inspection = broken(tmp_path, "many-corners", every(lambda text: text.replace(b"vt", ring + b"vt", 1) + face))
    assert said == [("many-corners", "warning", [float(n) for n in range(1, 13)])]
    finding = finding_of(inspection, "many-corners")
    assert (finding.numbers, finding.where[0].element) == ({"kind": "many-corners", "places": 12}, "face 13")


def test_255_corners_still_fit_a_byte(tmp_path: Path) -> None:
    ring = b"".join(b"v %.6f %.6f 0.000000\n" % (cos(at), sin(at)) for at in range(255))
    face = b"f" + b"".join(b" %d/1" % at for at in range(21, 276)) + b"\n"
    assert heard(look(tmp_path, every(lambda text: text.replace(b"vt", ring + b"vt", 1) + face))) == []
