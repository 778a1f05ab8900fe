"""Tests of `colour-map-statement`."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.errors import Refusal
from tests.helpers.fixing import fixed, plan_for
from tests.helpers.materials import library, with_library


def test_the_statement_changes_and_the_options_stay(tmp_path: Path) -> None:
    files = with_library("Kd 1 1 1", " map_Ka -s 1 1 1 skin.png", "Ns 3")
    result = fixed(tmp_path, files, "colour-map-statement")
    assert result.after["manta.mtl"] == library("Kd 1 1 1", " map_Kd -s 1 1 1 skin.png", "Ns 3")
    assert result.changed() == {"manta.mtl"}
    assert result.delivery.proof.clean


def test_a_colour_image_in_the_normal_slot(tmp_path: Path) -> None:
    """`-bm` is removed, because it scales the relief of a normal map and has no meaning for a colour image."""
    result = fixed(tmp_path, with_library("Kd 1 1 1", "norm -bm 2 skin.png"), "colour-map-statement")
    assert result.after["manta.mtl"] == library("Kd 1 1 1", "map_Kd skin.png")
    assert result.delivery.proof.clean


@pytest.mark.parametrize("lines", [("map_Ka skin.png", "map_Kd skin.png"), ("Kd 1 1 1",)])
def test_where_there_is_nothing_to_do(lines: tuple[str, ...], tmp_path: Path) -> None:
    with pytest.raises(Refusal, match="of a material without a colour map"):
        plan_for(tmp_path, with_library(*lines), "colour-map-statement")
