"""Tests of `repeated-frames`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


def test_a_number_that_stands_twice(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "repeated-frames", shot() | {"manta.5.obj": wing(5).text()})
    assert said == [("repeated-frames", "warning", [5.0])]
    finding = finding_of(inspection, "repeated-frames")
    assert finding.numbers == {"kind": "repeated", "numbers": 1}
    assert [where.file.raw for where in finding.where] == [b"manta.0005.obj", b"manta.5.obj"]


@pytest.mark.parametrize("name", ["manta.5.obj", "manta.00005.obj", "manta.0005.OBJ"])
def test_a_name_in_another_form(name: str, tmp_path: Path) -> None:
    files = shot()
    files[name] = files.pop("manta.0005.obj")
    said, inspection = broken(tmp_path, "repeated-frames", files)
    assert said == [("repeated-frames", "warning", [5.0])]
    finding = finding_of(inspection, "repeated-frames")
    assert (finding.numbers["kind"], finding.fixes) == ("mixed", ("renumber",))


@pytest.mark.parametrize("first", [0, 1, 95, 998, 9995])
@pytest.mark.parametrize("padding", [1, 2, 4])
def test_numbers_that_outgrow_their_padding_are_in_form(first: int, padding: int, tmp_path: Path) -> None:
    files = shot(numbers=())
    files |= {f"manta.{n:0{padding}}.obj": wing(n).text() for n in range(first, first + 12)}
    assert heard(look(tmp_path, files)) == []
