"""Tests of `uv-restore`."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from inspector.errors import Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.uvs import bare, beyond, in_part, reassigned, slid_along
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import Mesh
from tests.helpers.sequences import shot

NAME = "manta.0004.obj"


@pytest.mark.parametrize(
    ("break_it", "check", "touched"),
    [
        (bare, "no-uvs", {b"vt", b"f"}),
        (in_part, "partial-uvs", {b"f"}),
        (beyond, "uv-index-range", {b"f"}),
        (reassigned, "uv-mismatch", {b"f"}),
        (slid_along, "uv-values", {b"vt"}),
    ],
)
def test_each_way_of_losing_uvs_is_undone(
    tmp_path: Path, break_it: Callable[[Mesh], Mesh], check: str, touched: set[bytes]
) -> None:
    result = fixed(tmp_path, shot({4: break_it}), "uv-restore")
    assert result.changed() == {NAME}
    assert result.touched(NAME) == touched
    good, after = read_frame(shot()[NAME]), read_frame(result.after[NAME])
    assert np.array_equal(after.corners.vt, good.corners.vt)
    assert np.array_equal(after.uvs, good.uvs)
    assert np.array_equal(after.positions, good.positions)
    assert [finding.check for _, finding in result.delivery.proof.gone] == [check]
    assert result.delivery.proof.clean


def test_coordinates_are_restored_bit_for_bit_also_those_written_with_an_exponent(tmp_path: Path) -> None:
    files = shot({4: bare})
    tiny = {name: data.replace(b"vt 0.200000", b"vt 2.00000001234e-1") for name, data in files.items()}
    result = fixed(tmp_path, tiny, "uv-restore")
    assert np.array_equal(read_frame(result.after[NAME]).uvs, read_frame(tiny["manta.0001.obj"]).uvs)


@pytest.mark.parametrize(
    ("files", "frames", "reason"),
    [
        (shot(), None, "already has the same UVs"),
        (shot(dict.fromkeys(range(1, 13), bare)), (4,), "has no UVs"),
        (
            shot({4: lambda mesh: bare(mesh).edit(faces=bare(mesh).faces[:-1])}),
            (4,),
            r"has 12 faces, but frame 4 has 11",
        ),
        (
            shot({4: lambda mesh: mesh.edit(faces=(mesh.faces[0][::-1], *mesh.faces[1:]))}),
            (4,),
            r"face 1 of frame 4, on line 49, differs from the same face of reference frame 1",
        ),
    ],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], frames: tuple[int, ...] | None, reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "uv-restore", frames=frames)
