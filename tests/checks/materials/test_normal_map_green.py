"""Tests of `normal-map-green`. The slopes of the reliefs are known in closed form (tests/helpers/reliefs.py)."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.surface.height_field import green_up
from tests.helpers.images import image_file
from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.reliefs import RELIEFS, SILENT, normal_map
from tests.helpers.sequences import heard, look, shot


@pytest.mark.parametrize("name", RELIEFS)
@pytest.mark.parametrize("up", [True, False], ids=["up", "down"])
def test_green_follows_from_the_slopes(name: str, up: bool) -> None:
    told = green_up(normal_map(RELIEFS[name], green_up=up) / 127.5 - 1.0)
    assert told is (None if name in SILENT else up)


@pytest.mark.parametrize("name", RELIEFS)
def test_healthy_normal_maps_are_silent(name: str, tmp_path: Path) -> None:
    for up in (True, False):
        image = image_file(normal_map(RELIEFS[name], green_up=up))
        assert (
            heard(look(tmp_path, with_library("map_Kd skin.png", "norm a.png", a=image, skin=shot()["skin.png"]))) == []
        )


def test_two_conventions_in_one_sequence(tmp_path: Path) -> None:
    up, down = (image_file(normal_map(RELIEFS["eggs"], green_up=way)) for way in (True, False))
    good = with_library("norm a.png", "norm b.png", a=up, b=up)
    said, _ = broken(tmp_path, "normal-map-green", with_library("norm a.png", "norm b.png", a=up, b=down), good=good)
    assert said == [("normal-map-green", "warning", ALL)]


def test_normals_in_two_channels_are_not_called_colours(tmp_path: Path) -> None:
    """Some normal maps use only red and green, because some readers calculate blue from red and green."""
    image = normal_map(RELIEFS["eggs"])
    for blue in (0, 128, 255):
        image[..., 2] = blue
        assert heard(look(tmp_path / str(blue), with_library("norm a.png", a=image_file(image)))) == []
