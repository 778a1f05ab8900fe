"""Tests of `statement-case`. Source: MTL File Formats 4.2, 1995."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, with_library
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


@pytest.mark.parametrize("line", ["map_kd skin.png", "kd 1 1 1", "MAP_KD skin.png", "NS 10", "D 1"])
def test_another_case(line: str, tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "statement-case", with_library(line))
    assert said == [("statement-case", "warning", ALL)]
    finding = finding_of(inspection, "statement-case")
    assert finding.numbers["first"] == line.split(maxsplit=1)[0]
    assert [where.line for where in finding.where] == [2]


def test_the_first_word_of_a_material(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot() | {"manta.mtl": b"NewMtl skin\nmap_Kd skin.png\n"})) == [
        ("statement-case", "warning", ALL)
    ]


def test_both_usual_forms_of_a_later_word_are_right(tmp_path: Path) -> None:
    assert heard(look(tmp_path, with_library("map_Bump skin.png", "map_bump skin.png", "glow 3"))) == []
