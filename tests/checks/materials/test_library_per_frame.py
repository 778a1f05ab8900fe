"""Tests of `library-per-frame`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.materials import ALL, library, library_a_frame
from tests.helpers.one_thing import broken
from tests.helpers.sequences import Heard, finding_of, heard, look, shot

WHITE = library("Kd 1 1 1", "map_Kd skin.png")


def test_a_library_for_each_frame(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "library-per-frame", library_a_frame(dict.fromkeys(range(1, 13), WHITE)))
    assert said == [("library-per-frame", "note", ALL)]
    finding = finding_of(inspection, "library-per-frame")
    assert (finding.numbers["libraries"], finding.fixes) == (12, ("share-library",))


def test_two_libraries_for_twelve_frames_are_no_habit(tmp_path: Path) -> None:
    edits = {5: lambda mesh: mesh.edit(head=("mtllib other.mtl", "o manta"))}
    assert heard(look(tmp_path, shot(edits) | {"other.mtl": WHITE})) == []


@pytest.mark.parametrize(("libraries", "said"), [(6, []), (7, [("library-per-frame", "note", ALL)])])
def test_more_than_half_as_many_libraries_as_frames(libraries: int, said: list[Heard], tmp_path: Path) -> None:
    heads = {number: f"mtllib a.{min(number, libraries)}.mtl" for number in range(1, 13)}
    edits = {number: lambda mesh, head=head: mesh.edit(head=(head,)) for number, head in heads.items()}
    texts = dict.fromkeys((f"a.{number}.mtl" for number in range(1, libraries + 1)), WHITE)
    assert heard(look(tmp_path, shot(edits) | texts)) == said
