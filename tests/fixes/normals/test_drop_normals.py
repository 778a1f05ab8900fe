"""Tests of `drop-normals`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh, with_faces
from tests.helpers.sequences import frames, shot
from tests.helpers.with_normals import rings


def bare(mesh: Mesh) -> Mesh:
    return with_faces(mesh, lambda corner: (corner[0], corner[1], -1)).edit(normals=np.empty((0, 3)))


def test_normals_go_with_their_indices_and_the_bytes_saved_are_told(tmp_path: Path) -> None:
    files = frames(rings())
    result = fixed(tmp_path, files, "drop-normals")
    for number, mesh in rings().items():
        name = f"manta.{number:04}.obj"
        assert result.after[name] == bare(mesh).text()
        assert result.touched(name) == {b"vn", b"f"}
    saved = len(files["manta.0001.obj"]) - len(result.after["manta.0001.obj"])
    assert f"{saved:,} of" in result.step.summary


def test_without_normals_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no frame has normals"):
        plan_for(tmp_path, shot(), "drop-normals")
