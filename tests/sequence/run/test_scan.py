"""Tests of reading files."""

from __future__ import annotations

import hashlib
import json
import os
from pathlib import Path

import pytest

from inspector.errors import Cancelled, MeshqcError
from inspector.safe_open import read_file
from inspector.sequence.discovery.discover import discover
from inspector.sequence.discovery.receipt_file import RECEIPT_NAME
from inspector.sequence.discovery.receipt_marks import read_marks
from inspector.sequence.run.scan import load_frame, scan
from tests.helpers.sequences import shot, write


def test_a_pipe_is_refused_without_waiting(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "manta.0001.obj")
    with pytest.raises(OSError, match="not a regular file"):
        read_file(tmp_path / "manta.0001.obj")


@pytest.mark.parametrize("path", ["/dev/zero", "."])
def test_devices_and_folders_are_refused(path: str) -> None:
    with pytest.raises(OSError, match=r"not a regular file|directory"):
        read_file(Path(path))


def test_a_file_that_goes_away_is_reported_and_the_rest_is_read(tmp_path: Path) -> None:
    (sequence,) = discover(write(tmp_path, shot())).sequences
    (tmp_path / "manta.0005.obj").unlink()
    facts = list(scan(sequence.files))
    assert [one.number for one in facts if not one.readable] == [5]
    (problem,) = facts[4].problems
    assert problem.kind == "unopenable"
    assert problem.places[0].text is not None
    assert facts[5].step is None  # there is no previous frame to measure it from
    assert facts[6].step is not None


def test_cancel_stops_between_frames(tmp_path: Path) -> None:
    (sequence,) = discover(write(tmp_path, shot())).sequences
    answers = iter([False, False, True])
    frames = scan(sequence.files, lambda: next(answers))
    assert [next(frames).number, next(frames).number] == [1, 2]
    with pytest.raises(Cancelled):
        next(frames)


def test_nothing_is_written_while_reading(tmp_path: Path) -> None:
    (sequence,) = discover(write(tmp_path, shot())).sequences
    before = {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in tmp_path.rglob("*")}
    list(scan(sequence.files))
    assert {path: (path.stat().st_mtime_ns, path.read_bytes()) for path in tmp_path.rglob("*")} == before


@pytest.mark.parametrize(("data", "words"), [(b"v 0 0 0\nv 1", "line 2: the file ends"), (None, "No such")])
def test_a_frame_that_cannot_be_loaded_is_named(data: bytes | None, words: str, tmp_path: Path) -> None:
    path = tmp_path / "manta.obj"
    if data is not None:
        path.write_bytes(data)
    with pytest.raises(MeshqcError, match=words) as caught:
        load_frame(path)
    assert "manta.obj" in str(caught.value)


def test_marks_of_a_receipt(tmp_path: Path) -> None:
    made = tmp_path / "sub" / "manta.0003.obj"
    made.parent.mkdir()
    made.write_bytes(b"v 0 0 0\n")
    after = hashlib.sha256(made.read_bytes()).hexdigest()
    files = [
        {"path": "manta.0001.obj", "invented": None},
        {"path": "manta.0002.obj"},
        {"path": "sub/manta.0003.obj", "invented": "blend", "after": after},
        {"path": "sub/manta.0004.obj", "invented": "blend", "after": after},
    ]
    (tmp_path / RECEIPT_NAME).write_text(json.dumps({"files": files}))
    assert read_marks(tmp_path).invented == {"sub/manta.0003.obj": "blend"}


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"[]", b"7", b"null", b'{"files": 3}', b'{"files": [1]}', b'{"files": [{"invented": "hold"}]}',
     b"\xff\xfe", b"[" * 100_000],
)  # fmt: skip
def test_a_receipt_that_is_none_of_ours_marks_nothing(data: bytes, tmp_path: Path) -> None:
    (tmp_path / RECEIPT_NAME).write_bytes(data)
    assert not read_marks(tmp_path).invented
