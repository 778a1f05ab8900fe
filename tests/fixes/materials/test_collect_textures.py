"""`collect-textures` repairs the paths of textures and copies the textures into the delivery."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.sequences import shot, write


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
        (shot_with(DEAD) | {"a/skin.png": b"one", "b/skin.png": b"other"}, "more than one file fits"),
    ],
    ids=["nothing wrong", "nowhere", "two fit"],
)
def test_refusals(tmp_path: Path, files: dict[str, bytes], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "collect-textures")
