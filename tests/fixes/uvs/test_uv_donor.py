"""Tests of `uv-donor`."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from inspector.delivery.choices import all_choices
from inspector.delivery.planning import make_plan
from inspector.errors import MeshqcError, Refusal
from inspector.formats.wavefront.reader import read_frame
from tests.helpers.broken.uvs import bare
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.meshes import wing
from tests.helpers.sequences import look_at_all, shot, write

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
        (b"v 0 0 0\nvt 0 0\n", r"rest\.obj has no faces"),
        (wing(0).edit(faces=wing(0).faces[1:]).text(), r"rest\.obj has 11 faces, but frame 1 has 12"),
        (wing(0).text() + b"v 0 0 0\n", r"rest\.obj has 21 vertices, but frame 1 has 20"),
        (
            wing(0).edit(faces=(*wing(0).faces[:5], wing(0).faces[5][::-1], *wing(0).faces[6:])).text(),
            r"face 6 of frame 1, on line 30, differs from the same face of rest\.obj",
        ),
    ],
)
def test_a_donor_that_does_not_fit_is_refused(tmp_path: Path, donor: bytes, reason: str) -> None:
    path = write(tmp_path, {"rest.obj": donor}) / "rest.obj"
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, BARE, "uv-donor", {"from": str(path)})


def test_without_a_donor_or_without_need_it_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="name one with from=FILE"):
        plan_for(tmp_path, BARE, "uv-donor")
    with pytest.raises(MeshqcError, match=r"nowhere\.obj"):
        plan_for(tmp_path, BARE, "uv-donor", {"from": str(tmp_path / "nowhere.obj")})
    path = write(tmp_path, {"rest.obj": wing(0).text()}) / "rest.obj"
    with pytest.raises(Refusal, match="every frame has UVs"):
        plan_for(tmp_path / "whole", shot(), "uv-donor", {"from": str(path)})
    with pytest.raises(Refusal, match="the chosen frames have no vertices"):
        plan_for(tmp_path / "empty", shot() | {"manta.0004.obj": b"o manta\n"}, "uv-donor", frames=(4,))


def test_the_only_file_beside_that_fits_is_the_donor(tmp_path: Path) -> None:
    others = {
        "box.obj": wing(0).edit(faces=wing(0).faces[1:]).text(),
        "bare.obj": bare(wing(0)).text(),
        "cut.obj": b"v 1",
    }
    result = fixed(tmp_path, BARE | {"rest.obj": wing(0).text()} | others, "uv-donor")
    assert result.step.parameters == {"from": str(tmp_path / "in" / "rest.obj")}
    assert result.changed() == {name for name in BARE if name.endswith(".obj")}


def test_of_two_files_beside_none_is_chosen(tmp_path: Path) -> None:
    files = BARE | {"rest.obj": wing(0).text(), "other.obj": wing(1).text()}
    with pytest.raises(Refusal, match=r"more than one mesh file fits: other\.obj, rest\.obj; name one"):
        plan_for(tmp_path, files, "uv-donor")


def test_a_link_beside_is_not_followed(tmp_path_factory: pytest.TempPathFactory, tmp_path: Path) -> None:
    elsewhere = write(tmp_path_factory.mktemp("rest"), {"rest.obj": wing(0).text()}) / "rest.obj"
    (tmp_path / "rest.obj").symlink_to(elsewhere)
    with pytest.raises(Refusal, match="no mesh file beside the frames fits"):
        plan_for(tmp_path, BARE, "uv-donor")


@pytest.mark.parametrize(("beside", "fix"), [(True, "uv-donor"), (False, "uv-grid")])
def test_what_is_there_goes_before_what_is_made_up(beside: bool, fix: str, tmp_path: Path) -> None:
    files = BARE | ({"rest.obj": wing(0).text()} if beside else {})
    inspection = look_at_all(tmp_path, files)
    plan = make_plan(inspection, all_choices(inspection))
    assert [step.fix for step in plan.sequences[0].steps if step.fix.startswith("uv-")] == [fix]
