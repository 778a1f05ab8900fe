"""Tests of `unit-normals`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from inspector.surface.normals import unit
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
    with pytest.raises(Refusal, match=r"normal 5 has length 0 and can't be scaled"):
        plan_for(tmp_path / "b", frames(RINGS | {2: none}), "unit-normals")


def test_lengths_whose_squares_a_float64_does_not_hold() -> None:
    """The direction of (3, 4) is (0.6, 0.8) at every scale (exact arithmetic)."""
    for scale in (1e200, 1e-200, 1.0):
        assert np.allclose(unit(np.array([[3.0, 4.0, 0.0]]) * scale), [[0.6, 0.8, 0.0]], rtol=1e-15)
    assert unit(np.array([[0.0, 0.0, 0.0], [np.inf, 0.0, 0.0], [np.nan, 1.0, 0.0]])).tolist() == [[0.0, 0.0, 0.0]] * 3
