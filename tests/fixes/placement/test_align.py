"""Tests of `align`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import move

FAR = move(lambda number: (30.5, -4.25, 2.0 + 0.01 * number), range(1, 9))


@pytest.mark.parametrize(
    ("parameters", "zero"),
    [
        ({"at": "centre"}, lambda box: box.mean(axis=0)),
        ({"at": "ground", "up": "y"}, lambda box: [box[:, 0].mean(), box[0, 1], box[:, 2].mean()]),
        ({"at": "ground", "up": "z"}, lambda box: [box[:, 0].mean(), box[:, 1].mean(), box[0, 2]]),
    ],
)
def test_the_references_box_comes_to_the_origin_and_the_motion_stays(tmp_path: Path, parameters, zero) -> None:  # type: ignore[no-untyped-def]
    result = fixed(tmp_path, FAR, "align", parameters)
    box = read_frame(result.after["manta.0001.obj"]).box
    assert np.abs(zero(box)).max() < 1e-5
    for name in (name for name in FAR if name.endswith("obj")):
        moved = read_frame(result.after[name]).positions - read_frame(FAR[name]).positions
        assert np.allclose(moved, result.step.parameters["offset"], rtol=0, atol=1e-6)
        assert result.touched(name) == {b"v"}
    assert not result.delivery.proof.new


@pytest.mark.parametrize(
    ("parameters", "reason"),
    [
        ({}, "use `--with align:at=centre`, `--with"),
        ({"at": "ground"}, "the format does not state the up axis"),
        ({"at": "moon"}, "not one of centre"),
    ],
)
def test_refusals(tmp_path: Path, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, FAR, "align", parameters)
