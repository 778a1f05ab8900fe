"""Tests of `name-colour-map`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.images import image_file, spots
from tests.helpers.materials import library, with_library
from tests.helpers.sequences import Files, shot

IMAGE = image_file(spots())


def beside(name: str, text: bytes) -> Files:
    return {path: data for path, data in shot().items() if path != "skin.png"} | {"manta.mtl": text, name: IMAGE}


@pytest.mark.parametrize(
    ("name", "before", "after"),
    [
        ("skin.png", library("Kd 1 1 1"), library("Kd 1 1 1", "map_Kd skin.png")),
        ("textures/skin_base.png", library("Kd 1 1 1"), library("Kd 1 1 1", "map_Kd textures/skin_base.png")),
        ("skin.png", b"newmtl skin\r\nKd 1 1 1", b"newmtl skin\r\nKd 1 1 1\nmap_Kd skin.png\n"),
        (
            "skin.png",
            b"newmtl skin\r\nKd 1 1 1 \r\n\r\n# the eye\r\nnewmtl eye\r\n",
            b"newmtl skin\r\nKd 1 1 1 \r\nmap_Kd skin.png\r\n\r\n# the eye\r\nnewmtl eye\r\n",
        ),
    ],
)
def test_the_statement_is_added_to_the_material(name: str, before: bytes, after: bytes, tmp_path: Path) -> None:
    result = fixed(tmp_path, beside(name, before), "name-colour-map")
    assert result.after["manta.mtl"] == after
    assert result.after[name] == IMAGE
    assert result.changed() == {"manta.mtl"}
    assert result.delivery.proof.clean


def test_what_is_not_clear_is_refused(tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="no image beside a library"):
        plan_for(tmp_path / "a", shot(), "name-colour-map")
    two = with_library("Kd 1 1 1", skin_col=IMAGE, skin_diffuse=IMAGE)
    with pytest.raises(Refusal, match="several images could be the colour map"):
        plan_for(tmp_path / "b", two, "name-colour-map")
