"""Normals brought to length 1."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import frames
from tests.helpers.with_normals import rings

RINGS = rings()


def test_long_normals_become_the_unit_ones(tmp_path: Path) -> None:
    files = frames(RINGS | {2: RINGS[2].edit(normals=RINGS[2].normals * 3.5)})
    result = fixed(tmp_path, files, "unit-normals")
    assert result.step.frames == (2,)
    assert result.touched("manta.0002.obj") == {b"vn"}
    assert np.allclose(read_frame(result.after["manta.0002.obj"]).normals, RINGS[2].normals, rtol=0, atol=1e-6)


def test_refusals(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="every normal has length 1"):
        plan_for(tmp_path / "a", frames(RINGS), "unit-normals")
    none = RINGS[2].edit(normals=RINGS[2].normals * (np.arange(35) != 4)[:, None])
    with pytest.raises(Refusal, match="1 normals have length 0, normal 5 first"):
        plan_for(tmp_path / "b", frames(RINGS | {2: none}), "unit-normals")
