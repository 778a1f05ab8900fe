"""Tests of `estimated-frames`."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, invented, look, shot


@pytest.mark.parametrize(("way", "words"), [("blend", "blended from their neighbours"), ("hold", "copies of")])
def test_a_frame_that_the_receipt_calls_invented_is_a_note(way: str, words: str, tmp_path: Path) -> None:
    files = shot()
    files |= invented("manta.0005.obj", files["manta.0005.obj"], way)
    said, inspection = broken(tmp_path, "estimated-frames", files)
    assert said == [("estimated-frames", "note", [5.0])]
    assert words in finding_of(inspection, "estimated-frames").message


def test_a_held_frame_that_the_receipt_calls_invented_is_not_frozen(tmp_path: Path) -> None:
    files = shot()
    files["manta.0005.obj"] = files["manta.0004.obj"]
    assert heard(look(tmp_path / "source", files)) == [("frozen", "warning", [5.0])]
    files |= invented("manta.0005.obj", files["manta.0005.obj"], "hold")
    assert heard(look(tmp_path / "delivery", files)) == [("estimated-frames", "note", [5.0])]


def test_a_frame_that_was_exported_later_is_not_an_estimate(tmp_path: Path) -> None:
    files = shot()
    files |= invented("manta.0005.obj", files["manta.0006.obj"], "blend")
    assert heard(look(tmp_path, files)) == []
