"""Tests of `up-axis`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
import trimesh

from inspector.errors import Refusal
from inspector.fixes.placement.up_axis import turned
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import frames, shot
from tests.helpers.with_normals import rings

FILES = frames(rings())


@pytest.mark.parametrize(("to", "degrees"), [("z", 90.0), ("y", -90.0)])
def test_it_is_a_rotation_about_x(tmp_path: Path, to: str, degrees: float) -> None:
    matrix = trimesh.transformations.rotation_matrix(np.radians(degrees), [1, 0, 0])[:3, :3]
    assert np.linalg.det(matrix) == pytest.approx(1.0)
    result = fixed(tmp_path, FILES, "up-axis", {"to": to})
    for name in FILES:
        before, after = read_frame(FILES[name]), read_frame(result.after[name])
        assert np.allclose(after.positions, before.positions @ matrix.T, rtol=0, atol=1e-9)
        assert np.allclose(after.normals, before.normals @ matrix.T, rtol=0, atol=1e-9)
        assert result.touched(name) == {b"v", b"vn"}
    assert not result.delivery.proof.new


def test_there_and_back_is_where_it_was(tmp_path: Path) -> None:
    for folder in ("once", "back"):
        (tmp_path / folder).mkdir()
    once = fixed(tmp_path / "once", shot(), "up-axis", {"to": "z"})
    sources = {name: once.after[name] for name in shot()}
    back = fixed(tmp_path / "back", sources, "up-axis", {"to": "y"})
    for name, data in shot().items():
        if name.endswith("obj"):
            assert np.array_equal(read_frame(back.after[name]).positions, read_frame(data).positions)


def test_refusals(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no new up axis was given"):
        plan_for(tmp_path, FILES, "up-axis")
    assert turned(np.array([[1.0, 2.0, 3.0]]), "z").tolist() == [[1.0, -3.0, 2.0]]
