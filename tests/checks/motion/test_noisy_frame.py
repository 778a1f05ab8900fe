"""noisy-frame: noise on one frame, which is neither a pop nor another order of the vertices."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.broken.motion import DIAGONAL, drifting, noisy
from tests.helpers.meshes import Mesh
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look
from tests.helpers.surfaces import ring, sequence


@pytest.mark.parametrize("size", [0.002, 0.01, 0.03])
def test_noise_on_one_frame(size: float, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "noisy-frame", drifting({7: noisy(size)}), good=drifting())
    assert said == [("noisy-frame", "warning", [7.0])]
    assert finding_of(inspection, "noisy-frame").numbers["diagonals"] == pytest.approx(size, rel=0.25)


@pytest.mark.parametrize(("size", "found"), [(0.0009, False), (0.0014, True)])
def test_from_which_size_it_is_seen(size: float, found: bool, tmp_path: Path) -> None:
    said = heard(look(tmp_path, drifting({7: noisy(size)})))
    assert ("noisy-frame" in {check for check, _, _ in said}) is found


def test_a_dent_is_no_noise(tmp_path: Path) -> None:
    def dented(mesh: Mesh) -> Mesh:
        away = np.linalg.norm(mesh.positions - mesh.positions[0], axis=1)
        push = np.clip(1 - away / (0.2 * DIAGONAL), 0, 1)
        return mesh.edit(positions=mesh.positions + np.outer(push, [0, 0.1 * DIAGONAL, 0]))

    assert "noisy-frame" not in {check for check, _, _ in heard(look(tmp_path, drifting({7: dented})))}


def test_a_kink_of_the_whole_motion_is_no_noise(tmp_path: Path) -> None:
    def kinked(number: int) -> Mesh:
        return ring(1).edit(positions=ring(1).positions + np.array([0, abs(number - 6.0), 0]))

    assert [one for one in heard(look(tmp_path, sequence(kinked))) if one[1] != "note"] == []
