"""uv-values: equal numbers, other coordinates."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector import limits
from tests.helpers.broken.uvs import slid
from tests.helpers.meshes import Mesh
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


def test_an_island_slid(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "uv-values", shot({5: slid(0.02)}))
    assert said == [("uv-values", "warning", [5.0])]
    assert finding_of(inspection, "uv-values").numbers["largest"] == pytest.approx(0.02, abs=1e-6)


def test_rounding_is_no_slide(tmp_path: Path) -> None:
    """Four decimals instead of six differ by 0.00005 at most: below half a pixel of a map of 4096."""
    assert limits.UV_DIFFERENCE.value > 0.5e-4

    def rounded(mesh: Mesh) -> Mesh:
        return mesh.edit(uvs=np.round(mesh.uvs, 4))

    assert heard(look(tmp_path, shot({5: rounded}))) == []
