"""Tests of the axes symbol in pictures."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from inspector.picture.bearings import AXES, axes_sign
from inspector.picture.camera import frame_box
from inspector.picture.canvas import GROUND, blank

BOX = np.array([[-1.0, -1.0, -1.0], [1.0, 1.0, 1.0]])
SIDES = [side for side in product((-1.0, 0.0, 1.0), repeat=3) if any(side)]


@pytest.mark.parametrize("up", ["y", "z"])
@pytest.mark.parametrize("height", [120, 180, 360, 1080])
def test_no_letter_is_cut_off(height: int, up: str) -> None:
    width = height * 16 // 9
    for side in SIDES:
        camera = frame_box(BOX, np.array(side), up=tuple(np.eye(3)["xyz".index(up)]))
        sign = axes_sign(camera, width, height, up)
        picture = blank(width, height)
        sign.draw(picture)
        drawn = (picture != np.array(GROUND, np.uint8)).any(axis=2)
        assert drawn.sum() == sign.mask.sum()
        for edge in (drawn[0], drawn[-1], drawn[:, 0], drawn[:, -1]):
            assert not edge.any(), side
        assert drawn[height // 2 :, : width // 2].sum() > 0.9 * drawn.sum()  # the sign stays in its corner


def test_each_axis_is_there_in_its_colour_and_small_pictures_have_no_sign() -> None:
    camera = frame_box(BOX, np.array([-1.0, -1.0, -1.0]))
    picture = blank(320, 180)
    axes_sign(camera, 320, 180, "y").draw(picture)
    for colour in AXES.values():
        assert (picture == np.array(colour, np.uint8)).all(axis=2).any()
    small = blank(160, 90)
    axes_sign(camera, 160, 90, "y").draw(small)
    assert np.array_equal(small, blank(160, 90))
