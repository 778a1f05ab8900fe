"""Tests of `uv-shift-back`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Corner, Mesh, with_faces
from tests.helpers.sequences import shot

NAME = "manta.0004.obj"
CARD = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0]])


def up_by_three(corner: Corner) -> Corner:
    v, vt, vn = corner
    return v, vt + 3, vn


def shifted(mesh: Mesh) -> Mesh:
    return with_faces(mesh, up_by_three).edit(uvs=np.concatenate([mesh.uvs, CARD]))


def shifted_with_its_list(mesh: Mesh) -> Mesh:
    """Insert UVs at the start of the list, and shift the indices so that all corners keep their UVs."""
    return with_faces(mesh, up_by_three).edit(uvs=np.concatenate([CARD, mesh.uvs]))


def test_shifted_indices_come_back_and_only_faces_are_touched(tmp_path: Path) -> None:
    result = fixed(tmp_path, shot({4: shifted}), "uv-shift-back")
    assert result.changed() == {NAME}
    assert result.touched(NAME) == {b"f"}
    good, after = read_frame(shot()[NAME]), read_frame(result.after[NAME])
    assert np.array_equal(after.corners.vt, good.corners.vt)
    assert np.array_equal(after.uvs[after.corners.vt], good.uvs[good.corners.vt])
    assert result.step.parameters == {"shifts": {"4": 3}}
    assert result.delivery.proof.clean


@pytest.mark.parametrize(
    ("files", "frames", "reason"),
    [
        (shot(), None, "no frame has UV indices that all differ"),
        (shot(), (4,), "do not all differ from the reference frame's by the same"),
        (shot({4: shifted_with_its_list}), (4,), "would still differ from the reference frame's"),
        (shot({4: lambda mesh: mesh.edit(faces=mesh.faces[:-1])}), (4,), "the faces of frame 4 differ"),
        (shot({4: lambda mesh: with_faces(mesh, lambda corner: (corner[0], -1, -1))}), (4,), "without UVs"),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], frames: tuple[int, ...] | None, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "uv-shift-back", frames=frames)
