"""Tests of `estimated-frames`."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from tests.helpers.one_thing import broken
from tests.helpers.sequences import finding_of, heard, look, shot


def receipt(way: str, **files: bytes) -> dict[str, bytes]:
    entries = [
        {"path": f"manta.{name[1:]}.obj", "invented": way, "after": hashlib.sha256(data).hexdigest()}
        for name, data in files.items()
    ]
    return {RECEIPT_NAME: json.dumps({"files": entries}).encode()}


@pytest.mark.parametrize(("way", "words"), [("blend", "blended from their neighbours"), ("hold", "copies of")])
def test_a_frame_that_the_receipt_calls_invented_is_a_note(way: str, words: str, tmp_path: Path) -> None:
    files = shot()
    files |= receipt(way, _0005=files["manta.0005.obj"])
    said, inspection = broken(tmp_path, "estimated-frames", files)
    assert said == [("estimated-frames", "note", [5.0])]
    assert words in finding_of(inspection, "estimated-frames").message


def test_a_held_frame_that_the_receipt_calls_invented_is_not_frozen(tmp_path: Path) -> None:
    files = shot()
    files["manta.0005.obj"] = files["manta.0004.obj"]
    assert heard(look(tmp_path / "source", files)) == [("frozen", "warning", [5.0])]
    files |= receipt("hold", _0005=files["manta.0005.obj"])
    assert heard(look(tmp_path / "delivery", files)) == [("estimated-frames", "note", [5.0])]


def test_a_frame_that_was_exported_later_is_not_an_estimate(tmp_path: Path) -> None:
    files = shot()
    files |= receipt("blend", _0005=files["manta.0006.obj"])
    assert heard(look(tmp_path, files)) == []
