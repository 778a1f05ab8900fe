"""Tests of `replace-missing-maps`."""

from __future__ import annotations

import io
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from inspector.errors import Refusal
from inspector.picture.grid import grid_picture
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.materials import library, with_library
from tests.helpers.sequences import MATERIALS, Files, shot
from tests.helpers.uv_sheets import SHEET, sheets

LOST = "map_Kd -o 0.5 lost.png"


def test_dropped_lines_are_gone_and_all_else_stays(tmp_path: Path) -> None:
    files = with_library("Kd 1 1 1", LOST, "map_Ks skin.png", "  bump ../../lost.png", "Ns 3")
    result = fixed(tmp_path, files, "replace-missing-maps", {"by": "drop"})
    assert result.after["manta.mtl"] == library("Kd 1 1 1", "map_Ks skin.png", "Ns 3")
    assert result.changed() == {"manta.mtl"}
    assert result.after["skin.png"] == MATERIALS["skin.png"]
    assert {finding.check for _, finding in result.delivery.proof.gone} == {"texture-missing"}
    assert result.delivery.proof.clean


def test_the_last_line_without_an_end(tmp_path: Path) -> None:
    files = with_library() | {"manta.mtl": b"newmtl skin\r\nKd 1 1 1\r\nmap_Kd lost.png"}
    assert (
        fixed(tmp_path, files, "replace-missing-maps", {"by": "drop"}).after["manta.mtl"]
        == b"newmtl skin\r\nKd 1 1 1\r\n"
    )


def test_the_test_picture_stands_in_for_colour_with_the_options_kept(tmp_path: Path) -> None:
    """The sheet's aspect ratio is 16:9 and its UVs fill the unit square, so a grid of 1024 x 576 pixels has square
    cells."""
    files = sheets(SHEET) | {"manta.mtl": library("Kd 1 1 1", LOST, "bump lost.png")}
    result = fixed(tmp_path, files, "replace-missing-maps", {"by": "grid"})
    assert result.after["manta.mtl"] == library("Kd 1 1 1", "map_Kd -o 0.5 textures/meshqc_grid_1024x576.png")
    picture = np.asarray(Image.open(io.BytesIO(result.after["textures/meshqc_grid_1024x576.png"])))
    assert np.array_equal(picture, grid_picture(1024, 576))
    assert "remove 1 map and use the test grid for 1 map" in result.step.summary
    assert result.delivery.proof.clean
    assert "texture-missing" not in {one.check for one in result.delivery.after.inspections[0].findings}


@pytest.mark.parametrize(
    ("files", "parameters", "reason"),
    [
        (shot(), {"by": "drop"}, "the texture of every map"),
        (
            with_library(LOST),
            {},
            "if they are in another folder, add `--textures DIR`; otherwise, use `--with replace-missing-maps:by=drop` "
            "to remove their maps, or `--with replace-missing-maps:by=grid`",
        ),
        (with_library(LOST), {"by": "magic"}, "by=magic is not one of drop, grid"),
        (with_library("map_Kd maps\\skin.png"), {"by": "drop"}, "the texture of every map was found"),
    ],
)
def test_refusals(tmp_path: Path, files: Files, parameters: dict[str, object], reason: str) -> None:
    with pytest.raises(Refusal, match=reason):
        plan_for(tmp_path, files, "replace-missing-maps", parameters)
