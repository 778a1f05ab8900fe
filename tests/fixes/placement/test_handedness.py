"""Tests of `handedness`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.errors import Refusal
from inspector.fixes.normals.flip_normals import share_against
from inspector.formats.frame import Frame
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import frames
from tests.helpers.with_normals import rings

FILES = frames(rings())
AXES = {"x": 0, "y": 1, "z": 2}


def volume(frame: Frame) -> float:
    quads = frame.corners.v.reshape(-1, 4)
    return float(
        trimesh.Trimesh(frame.positions, np.concatenate([quads[:, :3], quads[:, [0, 2, 3]]]), process=False).volume
    )


@pytest.mark.parametrize("axis", AXES)
def test_one_axis_turns_and_the_outside_stays_outside(tmp_path: Path, axis: str) -> None:
    result = fixed(tmp_path, FILES, "handedness", {"axis": axis})
    for name in FILES:
        before, after = read_frame(FILES[name]), read_frame(result.after[name])
        sign = np.where(np.arange(3) == AXES[axis], -1.0, 1.0)
        assert np.array_equal(after.positions, before.positions * sign)
        assert volume(after) == pytest.approx(volume(before))
        assert volume(after) > 0
        assert share_against(after) == 0.0
        triples = [set(zip(one.corners.v, one.corners.vt, one.corners.vn, strict=True)) for one in (before, after)]
        assert triples[0] == triples[1]
        assert result.touched(name) == {b"v", b"vn", b"f"}
    assert not result.delivery.proof.new


def test_refusals(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no axis to reverse was given"):
        plan_for(tmp_path, FILES, "handedness")
