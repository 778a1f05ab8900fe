"""frozen: a frame equal to the one before while the motion went on. Common practice, no source: a hold goes on at its
pace, a frozen frame is followed by a step that catches up."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import pytest

from inspector.sequence.discovery.receipt_marks import RECEIPT_NAME
from tests.helpers.meshes import wing
from tests.helpers.one_thing import broken
from tests.helpers.sequences import MATERIALS, finding_of, frames, heard, look, shot


def stuck(*numbers: int) -> dict[str, bytes]:
    """The shot with these frames as the frame in front of the first of them."""
    return shot(dict.fromkeys(numbers, lambda _: wing(min(numbers) - 1)))


@pytest.mark.parametrize("numbers", [(5,), (5, 6), (5, 6, 7), (3,), (10,)])
def test_the_motion_went_on(numbers: tuple[int, ...], tmp_path: Path) -> None:
    said, inspection = broken(tmp_path, "frozen", stuck(*numbers))
    assert said == [("frozen", "warning", [float(number) for number in numbers])]
    assert finding_of(inspection, "frozen").fixes == ("fill-frames",)


def test_two_frames_in_two_places_are_one_finding(tmp_path: Path) -> None:
    files = stuck(4) | frames({9: wing(8)})
    assert heard(look(tmp_path, files)) == [("frozen", "warning", [4.0, 9.0])]


def test_a_hold_is_a_note(tmp_path: Path) -> None:
    times = [1, 2, 3, 4, 4, 4, 5, 6, 7, 8, 9, 10]
    files = MATERIALS | frames({number: wing(time) for number, time in enumerate(times, 1)})
    assert heard(look(tmp_path, files)) == [("frozen", "note", [5.0, 6.0])]


def test_the_last_frames_equal_are_a_hold(tmp_path: Path) -> None:
    assert heard(look(tmp_path, shot({12: lambda _: wing(11)}))) == [("frozen", "note", [12.0])]


def test_a_hold_in_front_of_a_gap_is_not_frozen(tmp_path: Path) -> None:
    """The long step behind it is that over the missing frame."""
    files = stuck(5)
    del files["manta.0006.obj"]
    assert heard(look(tmp_path, files)) == [("frozen", "note", [5.0]), ("missing-frames", "error", [6.0])]


def test_a_frame_that_the_receipt_calls_invented_is_a_note(tmp_path: Path) -> None:
    files = stuck(5)
    files |= {RECEIPT_NAME: receipt_for("manta.0005.obj", files["manta.0005.obj"])}
    assert heard(look(tmp_path, files)) == [("frozen", "note", [5.0])]


def test_a_frame_that_was_exported_over_an_invented_one_is_frozen(tmp_path: Path) -> None:
    """The receipt is still there, and says nothing of the frame that is in the folder now."""
    files = stuck(5)
    files |= {RECEIPT_NAME: receipt_for("manta.0005.obj", files["manta.0006.obj"])}
    assert heard(look(tmp_path, files)) == [("frozen", "warning", [5.0])]


def receipt_for(path: str, data: bytes) -> bytes:
    after = hashlib.sha256(data).hexdigest()
    return json.dumps({"files": [{"path": path, "invented": "hold", "after": after}]}).encode()
