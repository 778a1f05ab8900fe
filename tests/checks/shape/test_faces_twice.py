"""Tests of `duplicate-faces` and `coincident-faces`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.broken.shape import backed, doubled
from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot
from tests.helpers.surfaces import EVERY, sequence


def test_doubled(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "duplicate-faces", sequence(lambda n: doubled(wing(n))))
    assert said == [("duplicate-faces", "warning", EVERY)]
    finding = finding_of(inspection, "duplicate-faces")
    assert finding.where[0].element == "face 13"
    assert finding.numbers["places"] == 12


def test_backed(tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "coincident-faces", sequence(lambda n: backed(wing(n))))
    assert said == [("coincident-faces", "warning", EVERY)]
    assert finding_of(inspection, "coincident-faces").where[0].element == "face 13"


@pytest.mark.parametrize(("edit", "check"), [(doubled, "duplicate-faces"), (backed, "coincident-faces")])
def test_in_one_frame_there_is_a_face_more(edit: object, check: str, tmp_path: Path) -> None:
    said = heard(look(tmp_path, shot({5: edit})))  # type: ignore[dict-item]
    assert said == sorted([(check, "warning", [5.0]), ("face-count", "error", [5.0])])
