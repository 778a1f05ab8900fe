"""Tests of `mirrored-normals`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from tests.helpers.materials import ALL, NORMALS, library
from tests.helpers.meshes import Mesh
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


def mirrored(mesh: Mesh) -> Mesh:
    """Mirror the UVs of one wing, as if both wings used the same half of the texture."""
    uvs = mesh.uvs.copy()
    uvs[12:, 0] = uvs[12:, 0].min() + uvs[12:, 0].max() - uvs[12:, 0]
    return mesh.edit(uvs=uvs)


def all_mirrored(mesh: Mesh) -> Mesh:
    return mesh.edit(uvs=np.stack([1.0 - mesh.uvs[:, 0], mesh.uvs[:, 1]], axis=1))


def files(edit: object, *lines: str) -> dict[str, bytes]:
    edited = shot() if edit is None else shot(dict.fromkeys(range(1, 13), edit))
    return edited | {"manta.mtl": library(*lines), "a.png": NORMALS}


def test_half_of_the_surface(tmp_path: Path) -> None:
    said, inspection = broken(
        tmp_path,
        "mirrored-normals",
        files(mirrored, "map_Kd skin.png", "norm a.png"),
        companions={"uv-mirrored": "islands that lie mirrored are noted whatever map is on them"},
    )
    assert said == [("mirrored-normals", "warning", ALL), ("uv-mirrored", "note", ALL)]
    assert finding_of(inspection, "mirrored-normals").numbers["mirrored"] == pytest.approx(0.5)


@pytest.mark.parametrize(
    ("edit", "lines"),
    [
        (mirrored, ("map_Kd skin.png",)),
        (None, ("norm a.png",)),
        (all_mirrored, ("norm a.png",)),
        (mirrored, ("bump skin.png",)),
    ],
)
def test_no_normal_map_or_nothing_mirrored_against_the_rest(
    edit: object, lines: tuple[str, ...], tmp_path: Path
) -> None:
    said = {check for check, _, _ in heard(look(tmp_path, files(edit, *lines)))}
    assert "mirrored-normals" not in said
