"""Tests of `other-format`. A format is recognised by the words that its specification requires at the start of a
file."""

from __future__ import annotations

from pathlib import Path

from inspector.formats.files import ply
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.meshes_out import of_frame
from tests.helpers.one_thing import broken, every
from tests.helpers.sequences import finding_of


def test_silent_then_broken(tmp_path: Path) -> None:
    as_ply = every(lambda text: ply.write(of_frame(read_frame(text))))
    said, inspection = broken(
        tmp_path,
        "other-format",
        as_ply,
        companions={"missing-normals": "PLY has no smoothing groups, so that normals are missed as well"},
    )
    frames = [float(n) for n in range(1, 13)]
    assert sorted(said) == [("missing-normals", "note", frames), ("other-format", "error", frames)]
    finding = finding_of(inspection, "other-format")
    assert "PLY" in finding.message
    assert all(where.line is None for where in finding.where)
