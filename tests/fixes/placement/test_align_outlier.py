"""Tests of `align-outlier`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import shot

NAME = "manta.0006.obj"


def aside(mesh: Mesh) -> Mesh:
    return mesh.edit(positions=mesh.positions + np.array([3.0, -2.0, 1.0]))


def doubled(mesh: Mesh) -> Mesh:
    middle = (mesh.positions.min(axis=0) + mesh.positions.max(axis=0)) / 2
    return mesh.edit(positions=middle + 2.0 * (mesh.positions - middle))


def test_a_frame_aside_comes_back_and_keeps_its_shape(tmp_path: Path) -> None:
    files = shot({6: aside})
    result = fixed(tmp_path, files, "align-outlier")
    assert result.changed() == {NAME}
    assert result.touched(NAME) == {b"v"}
    after, good = read_frame(result.after[NAME]).positions, read_frame(shot()[NAME]).positions
    assert np.abs(after - good).max() < 0.05  # a hundredth of the wing; the exact position can't be known
    assert np.allclose(after - after[0], good - good[0], rtol=0, atol=2e-6)
    assert [finding.check for _, finding in result.delivery.proof.gone] == ["centre-jump"]
    assert result.delivery.proof.clean


def test_a_frame_of_double_size_is_scaled_back(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot({6: doubled}), "align-outlier")
    after, good = read_frame(result.after[NAME]).positions, read_frame(shot()[NAME]).positions
    assert np.linalg.norm(np.ptp(after, axis=0)) == pytest.approx(np.linalg.norm(np.ptp(good, axis=0)), rel=0.02)
    assert result.delivery.proof.clean


@pytest.mark.parametrize("factor", [100.0, 2.54, 1000.0])
def test_a_frame_in_another_unit_is_scaled_back_exactly(factor: float, tmp_path: Path) -> None:
    result = fixed(tmp_path, shot({6: lambda mesh: mesh.edit(positions=mesh.positions * factor)}), "align-outlier")
    after, good = read_frame(result.after[NAME]).positions, read_frame(shot()[NAME]).positions
    assert np.abs(after - good).max() < 1.5e-6  # the last of the six decimal places
    assert result.delivery.proof.clean


@pytest.mark.parametrize(
    ("frames", "reason"),
    [
        ((6,), "already match those of its neighbours"),
        ((1,), "an intact neighbour on one side only"),
        ((99,), "the source has no frame 99"),
        (None, "no frame is an outlier"),
    ],
)
def test_refusals(tmp_path: Path, frames: tuple[int, ...] | None, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, shot(), "align-outlier", frames=frames)
