"""Tests of `paths-not-portable`. The reserved names are listed from memory."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.broken.materials import ODD_PATHS
from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, heard, look, shot

SKIN = MATERIALS["skin.png"]


@pytest.mark.parametrize("name", ODD_PATHS)
def test_a_texture(name: str, tmp_path: Path) -> None:
    kind, severity = ODD_PATHS[name]
    said, inspection = broken(tmp_path, "paths-not-portable", with_library(f"map_Kd {name}") | {name: SKIN})
    assert said == [("paths-not-portable", severity, ALL)]
    assert finding_of(inspection, "paths-not-portable").numbers["kind"] == kind


def test_a_library_with_blanks(tmp_path: Path) -> None:
    edits = {5: lambda mesh: mesh.edit(head=("mtllib wet manta.mtl", "o manta"))}
    files = shot(edits) | {"wet manta.mtl": MATERIALS["manta.mtl"]}
    said, inspection = broken(tmp_path, "paths-not-portable", files)
    assert said == [("paths-not-portable", "warning", [5.0])]
    assert finding_of(inspection, "paths-not-portable").where[0].line == 1


@pytest.mark.parametrize("name", ["./maps/skin.png", "maps/../maps/skin.png", "maps/skin.v2.png", "maps/auxiliary.png"])
def test_plain_names(name: str, tmp_path: Path) -> None:
    files = with_library(f"map_Kd {name}") | {f"maps/{name.rsplit('/', 1)[1]}": SKIN}
    assert heard(look(tmp_path, files)) == []


@pytest.mark.parametrize("name", ["maps\\skin.png", "C:\\maps\\skin.png", "/maps/skin.png", "../../maps/skin.png"])
def test_what_is_missed_as_written_is_said_once_by_another_check(name: str, tmp_path: Path) -> None:
    said = heard(look(tmp_path, with_library(f"map_Kd {name}") | {"maps/skin.png": SKIN}))
    assert said == [("texture-missing", "error", ALL)]
