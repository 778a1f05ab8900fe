"""Tests of `offset`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import move, shot

FAR = move(lambda number: (250_000.5, -80.25, 0.01 * number), range(1, 9))


def test_the_reference_comes_to_the_origin_and_the_motion_stays(tmp_path: Path) -> None:
    result = fixed(tmp_path, FAR, "offset", {"to": "origin"})
    frames = sorted(name for name in FAR if name.endswith(".obj"))
    first = read_frame(result.after[frames[0]]).box
    assert first is not None
    assert np.abs(first.mean(axis=0)).max() < 1e-5
    for name in frames:
        moved = read_frame(result.after[name]).positions - read_frame(FAR[name]).positions
        assert np.abs(moved - moved[0]).max() < 1e-6
        assert np.allclose(moved[0], [result.step.parameters[axis] for axis in "xyz"], rtol=0, atol=1e-6)
        assert result.touched(name) == {b"v"}


def test_a_stated_offset_is_added(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot(), "offset", {"y": "-1.5"})
    assert result.step.parameters == {"x": 0.0, "y": -1.5, "z": 0.0}
    before, after = (read_frame(files["manta.0003.obj"]).positions for files in (result.before, result.after))
    assert np.allclose(after - before, [0, -1.5, 0], rtol=0, atol=1e-9)


@pytest.mark.parametrize(
    ("parameters", "reason"),
    [
        ({}, "no offset was given; use, for example, `--with offset:x=0,y=-1.5,z=0` or `--with offset:to=origin`"),
        ({"x": "0"}, "changes nothing"),
        ({"to": "moon"}, "not one of origin"),
    ],
)
def test_refusals(tmp_path: Path, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, shot(), "offset", parameters)
