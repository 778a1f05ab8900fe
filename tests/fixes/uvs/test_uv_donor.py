"""UVs from a donor file of the same connectivity."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.errors import MeshqcError, Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import wing
from tests.helpers.sequences import shot, write

BARE = shot(dict.fromkeys(range(1, 13), bare))


def test_all_frames_get_the_donor_s_uvs(tmp_path_factory: pytest.TempPathFactory, tmp_path: Path) -> None:
    donor = write(tmp_path_factory.mktemp("rest"), {"rest.obj": wing(0).text()}) / "rest.obj"
    result = fixed(tmp_path, BARE, "uv-donor", uvs_from=donor)
    frames = {name for name in BARE if name.endswith(".obj")}
    assert result.changed() == frames
    good = read_frame(wing(0).text())
    for name in frames:
        after = read_frame(result.after[name])
        assert result.touched(name) == {b"vt", b"f"}
        assert np.array_equal(after.uvs, good.uvs)
        assert np.array_equal(after.corners.vt, good.corners.vt)
    assert result.step.parameters == {"from": str(donor)}
    assert result.delivery.proof.clean


@pytest.mark.parametrize(
    ("donor", "reason"),
    [
        (bare(wing(0)).text(), r"rest\.obj has no UVs"),
        (wing(0).edit(faces=wing(0).faces[1:]).text(), r"rest\.obj has 11 faces, frame 1 has 12"),
        (wing(0).text() + b"v 0 0 0\n", r"rest\.obj has 21 vertices, frame 1 has 20"),
        (
            wing(0).edit(faces=(*wing(0).faces[:5], wing(0).faces[5][::-1], *wing(0).faces[6:])).text(),
            r"1 face of frame 1 differ from rest\.obj: face 6 first",
        ),
    ],
)
def test_a_donor_that_does_not_fit_is_refused(tmp_path: Path, donor: bytes, reason: str) -> None:
    path = write(tmp_path, {"rest.obj": donor}) / "rest.obj"
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, BARE, "uv-donor", {"from": str(path)})


def test_without_a_donor_or_without_need_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="name the mesh file with the UVs"):
        plan_for(tmp_path, BARE, "uv-donor")
    with pytest.raises(MeshqcError, match=r"nowhere\.obj"):
        plan_for(tmp_path, BARE, "uv-donor", {"from": str(tmp_path / "nowhere.obj")})
    path = write(tmp_path, {"rest.obj": wing(0).text()}) / "rest.obj"
    with pytest.raises(Refusal, match="every frame has UVs"):
        plan_for(tmp_path / "whole", shot(), "uv-donor", {"from": str(path)})
