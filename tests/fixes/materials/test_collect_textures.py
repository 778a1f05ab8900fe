"""Tests of `collect-textures`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.delivery.choices import Choice
from inspector.delivery.deliver import deliver
from inspector.delivery.planning import make_plan
from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import look_at_all, shot, write


def shot_with(library: bytes, **more: bytes) -> dict[str, bytes]:
    files = shot() | {"manta.mtl": library, **more}
    del files["skin.png"]
    return files


DEAD = b"newmtl skin\r\nKd 1 1 1\r\nmap_Kd -s 1 1 1 C:\\show\\Tex\\Skin.PNG\r\n# end"


def test_a_dead_path_is_repaired_and_every_other_byte_stays(tmp_path: Path) -> None:
    files = shot_with(DEAD) | {"maps/skin.png": b"a skin", "unused.png": b"not named by anything"}
    result = fixed(tmp_path, files, "collect-textures")
    assert result.changed() == {"manta.mtl"}
    assert result.after["manta.mtl"] == DEAD.replace(b"C:\\show\\Tex\\Skin.PNG", b"textures/skin.png")
    assert result.after["textures/skin.png"] == b"a skin"
    assert not {"maps/skin.png", "unused.png"} & result.after.keys()
    assert result.delivery.proof.clean


def test_a_texture_outside_the_folder_is_brought_in(tmp_path_factory: pytest.TempPathFactory, tmp_path: Path) -> None:
    shared = write(tmp_path_factory.mktemp("shared"), {"skin.png": b"a skin"})
    result = fixed(tmp_path, shot_with(DEAD), "collect-textures", textures=(shared,))
    assert result.after["textures/skin.png"] == b"a skin"


def test_two_textures_of_one_name_both_go_along(tmp_path: Path) -> None:
    library = b"newmtl skin\nmap_Kd day\\skin.png\nbump night\\skin.png\n"
    files = shot_with(library) | {"day/skin.png": b"day", "night/skin.png": b"night"}
    result = fixed(tmp_path, files, "collect-textures")
    assert result.after["manta.mtl"] == b"newmtl skin\nmap_Kd textures/skin.png\nbump textures/skin2.png\n"
    assert (result.after["textures/skin.png"], result.after["textures/skin2.png"]) == (b"day", b"night")


@pytest.mark.parametrize(
    ("files", "reason"),
    [
        (shot(), "no texture that was found needs to be copied"),
        (shot_with(DEAD), "no texture that was found needs to be copied"),
        (shot_with(DEAD) | {"a/skin.png": b"one", "b/skin.png": b"other"}, "more than one file matches"),
    ],
    ids=["nothing wrong", "nowhere", "two fit"],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "collect-textures")


def test_a_library_that_is_not_delivered_has_no_textures_to_repair(tmp_path: Path) -> None:
    """The frames name the library with a wrong path, so the library is delivered only if `share-library` is applied."""
    elsewhere = {
        name: data.replace(b"mtllib manta.mtl", b"mtllib Export\\MANTA.MTL") for name, data in shot_with(DEAD).items()
    }
    files = elsewhere | {"maps/skin.png": b"a skin"}
    with pytest.raises(Refusal, match="collect-textures: the library to change is not part of the delivery"):
        plan_for(tmp_path / "alone", files, "collect-textures")
    both = [Choice("share-library"), Choice("collect-textures")]
    delivery = deliver(make_plan(look_at_all(tmp_path / "both", files), both), tmp_path / "out")
    assert delivery.proof.clean
    assert (tmp_path / "out/textures/skin.png").read_bytes() == b"a skin"
