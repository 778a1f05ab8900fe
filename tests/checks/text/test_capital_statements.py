"""Tests of `capital-statements`. Keywords are lower-case (format document, appendix B1)."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np

from inspector.formats.wavefront.reader import read_frame
from inspector.formats.wavefront.writer import write_frame
from tests.helpers.one_thing import TEXT, broken, same_form
from tests.helpers.sequences import shot

CAPITALS = re.sub(rb"^(v|vt|f)(?= )", lambda match: match[0].upper(), TEXT, flags=re.MULTILINE)


def test_silent_then_broken(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "capital-statements", shot() | {"manta.0005.obj": CAPITALS})
    assert said == [("capital-statements", "warning", [5.0])]
    same_form(inspection, "capital-statements", "capital-statement")


def test_the_mesh_is_the_same_and_what_does_not_change_stays_as_written() -> None:
    plain, capital = read_frame(TEXT), read_frame(CAPITALS)
    assert capital.positions.tolist() == plain.positions.tolist()
    assert capital.corners.vt.tolist() == plain.corners.vt.tolist()
    assert capital.problems[0].places[0].line == plain.blocks[[b.keyword for b in plain.blocks].index(b"v")].first_line
    moved = write_frame(capital.replace(positions=capital.positions + 1.0))
    assert np.allclose(read_frame(moved).positions, plain.positions + 1.0, rtol=0, atol=1e-6)
    assert moved[moved.index(b"VT ") :] == CAPITALS[CAPITALS.index(b"VT ") :]
