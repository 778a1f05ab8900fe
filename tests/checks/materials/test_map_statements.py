"""Tests of `map-statements`. The known statements are those of MTL File Formats 4.2 (1995). The meanings of other
statements follow common practice (no source)."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.images import image_file, spots
from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look

WOOD = image_file(spots())


@pytest.mark.parametrize(
    ("statement", "meaning"),
    [
        ("map_Pc", "clearcoat thickness"),
        ("map_ORM", "occlusion, roughness and metallic in one texture"),
        ("map_opacity", "opacity; the format defines `map_d`"),
        ("map_kelp", "unknown meaning"),
    ],
)
def test_a_further_statement_is_listed_as_what_it_is(statement: str, meaning: str, tmp_path: Path) -> None:
    files = with_library("map_Kd skin.png", f"{statement} wood.png", wood=WOOD)
    said, inspection = broken(tmp_path, "map-statements", files)
    assert said == [("map-statements", "note", ALL)]
    assert finding_of(inspection, "map-statements").message == (
        f"the format does not define the map statement `{statement}` ({meaning})"
    )


@pytest.mark.parametrize("line", ["map_aat on", "map_scale 2.5", "map_bake off"])
def test_values_are_not_files(line: str, tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library("map_Kd skin.png", line))) == []


def test_a_missing_file_of_one_is_a_warning(tmp_path: Path) -> None:
    found = {
        check: (severity, frames)
        for check, severity, frames in heard(look(tmp_path, with_library("map_Kd skin.png", "map_Pc gone.png")))
    }
    assert found == {"texture-missing": ("warning", ALL), "map-statements": ("note", ALL)}
