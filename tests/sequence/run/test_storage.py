"""Storage that stops answering, as a network mount does whose server went away (common practice, no source)."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Event

import pytest

from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run import storage
from inspector.sequence.run.executors import InlineExecutor
from tests.helpers.sequences import finding_of, shot, write


@pytest.fixture
def stuck(monkeypatch: pytest.MonkeyPatch) -> Iterator[set[bytes]]:
    """Names of files whose opening never comes back while the test runs."""
    names: set[bytes] = set()
    over = Event()
    usual = storage.open_place

    def opened(path: Path) -> int:
        if os.fsencode(path.name) in names:
            over.wait(300)
        return usual(path)

    monkeypatch.setattr(storage, "open_place", opened)
    monkeypatch.setattr("inspector.sequence.run.storage.STALL_SECONDS", 0.3)
    monkeypatch.setattr("inspector.sequence.run.storage.STALL_AGAIN_SECONDS", 0.1)
    yield names
    over.set()


def test_one_stalled_file_costs_only_itself(tmp_path: Path, stuck: set[bytes]) -> None:
    stuck.add(b"manta.0007.obj")
    inspection = inspect_folder(write(tmp_path, shot()), executor=InlineExecutor()).inspections[0]
    assert [one.number for one in inspection.series.facts if not one.readable] == [7]
    finding = finding_of(inspection, "unreadable")
    assert "stopped answering" in finding.message
    assert finding.where[0].file.raw == b"manta.0007.obj"


def test_a_stalled_folder_comes_to_an_end(tmp_path: Path, stuck: set[bytes], monkeypatch: pytest.MonkeyPatch) -> None:
    files = shot(numbers=range(1, 61))
    stuck.update(name.encode() for name in files if name.endswith(".obj") and name > "manta.0010.obj")
    monkeypatch.setattr("inspector.sequence.run.storage.STALLED_FILES", 3)
    start = time.monotonic()
    inspection = inspect_folder(write(tmp_path, files), executor=InlineExecutor()).inspections[0]
    assert sum(one.readable for one in inspection.series.facts) == 10
    assert len(finding_of(inspection, "unreadable").frames) == 50
    assert time.monotonic() - start < 20, "fifty frames, but three waits"


def test_pieces_that_keep_coming_are_waited_for(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A slow file is no stalled one: it is read whole, in as many pieces as it takes."""
    path = tmp_path / "manta.0001.obj"
    path.write_bytes(bytes(range(256)) * 4)
    monkeypatch.setattr("inspector.sequence.run.storage.READ_BYTES", 100)
    assert storage.PatientReader().read(path) == path.read_bytes()
    with pytest.raises(OSError, match="No such file"):
        storage.PatientReader().read(tmp_path / "nowhere")


def test_what_goes_wrong_in_the_reading_thread_is_told_to_who_waits(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_memory(_place: Path) -> int:
        raise MemoryError

    monkeypatch.setattr(storage, "open_place", no_memory)
    with pytest.raises(MemoryError):
        storage.PatientReader().read(tmp_path)


def test_a_file_is_read_ahead_and_another_is_not_taken_for_it(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one, other = tmp_path / "manta.0001.obj", tmp_path / "manta.0002.obj"
    one.write_bytes(b"one")
    other.write_bytes(b"other")
    opened: list[Path] = []
    usual = storage.open_place
    monkeypatch.setattr(storage, "open_place", lambda path: opened.append(path) or usual(path))
    reader = storage.PatientReader()
    assert reader.read(one) == b"one"
    reader.expect(other)
    assert reader.read(other) == b"other"
    assert opened == [one, other], "each was read once"
    reader.expect(other)
    assert reader.read(one) == b"one"
    reader.expect(tmp_path / "nowhere")
    with pytest.raises(OSError, match="No such file"):
        reader.read(tmp_path / "nowhere")
    reader.close()


def test_a_stalled_file_that_nobody_asks_for_holds_up_no_other(tmp_path: Path, stuck: set[bytes]) -> None:
    stuck.add(b"manta.0002.obj")
    for number in (1, 2, 3):
        (tmp_path / f"manta.000{number}.obj").write_bytes(b"%d" % number)
    reader = storage.PatientReader()
    assert reader.read(tmp_path / "manta.0001.obj") == b"1"
    reader.expect(tmp_path / "manta.0002.obj")
    assert reader.read(tmp_path / "manta.0003.obj") == b"3"
