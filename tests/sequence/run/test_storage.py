"""Tests of storage that stops responding, such as a network mount without its server (common practice, no source)."""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from pathlib import Path
from threading import Event

import pytest

from inspector.formats.problems import UnreadableFrame
from inspector.inspection.inspection import inspect_folder
from inspector.sequence.run import storage
from inspector.sequence.run.executors import InlineExecutor
from tests.helpers.sequences import finding_of, shot, write


@pytest.fixture
def stuck(monkeypatch: pytest.MonkeyPatch) -> Iterator[set[bytes]]:
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
    assert "stopped responding" in finding.message
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
    path = tmp_path / "manta.0001.obj"
    path.write_bytes(bytes(range(256)) * 4)
    usual = storage._OpenFile.read

    def slow(file: storage._OpenFile, most: int) -> bytes:
        time.sleep(most / 1000)
        return usual(file, most)

    monkeypatch.setattr(storage._OpenFile, "read", slow)
    monkeypatch.setattr("inspector.sequence.run.storage.STALL_SECONDS", 0.8)
    monkeypatch.setattr("inspector.sequence.run.storage.PIECE_BYTES", 100)
    assert storage.PatientReader().read(path) == path.read_bytes(), "a second in all, but a tenth for each piece"
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


@pytest.fixture
def large(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr("inspector.sequence.run.storage.READ_BYTES", 100)
    monkeypatch.setattr("inspector.sequence.run.storage.PIECE_BYTES", 30)
    path = tmp_path / "manta.0001.stl"
    path.write_bytes(bytes(range(256)))
    return path


def test_slices_of_a_large_file_are_those_of_its_bytes(large: Path) -> None:
    content, data = storage.PatientReader().open(large), large.read_bytes()
    assert isinstance(content, storage.PatientFile)
    assert len(content) == len(data)
    for part in (slice(None), slice(10), slice(40, 250), slice(200, 900), slice(300, None), slice(7, 7)):
        assert content[part] == data[part]


@pytest.mark.parametrize("change", [b"", b"longer" * 50, bytes(256)], ids=["cut", "longer", "other bytes"])
def test_a_large_file_that_changes_between_slices_is_unreadable(large: Path, change: bytes) -> None:
    content = storage.PatientReader().open(large)
    assert content[:10]
    large.write_bytes(change)
    os.utime(large, (1e9, 1e9))
    with pytest.raises(UnreadableFrame) as error:
        content[10:20]
    assert error.value.problem.kind == "still-written"


def test_a_large_file_that_stalls_between_slices_costs_only_itself(
    large: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("inspector.sequence.run.storage.STALL_SECONDS", 0.2)
    reader, over = storage.PatientReader(), Event()
    content = reader.open(large)
    assert isinstance(content, storage.PatientFile)
    assert content[:5] == bytes(range(5))
    with monkeypatch.context() as stuck:
        stuck.setattr(storage.os, "lseek", lambda *_: over.wait(300))
        with pytest.raises(storage.Stalled):
            content[5:10]
    assert reader.open(large)[:5] == bytes(range(5)), "a thread of its own"
    over.set()


def test_a_large_frame_gives_the_same_facts_as_a_small_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    facets = "".join(
        f"facet normal 0 0 1\nouter loop\nvertex {x} 0 0\nvertex {x} 1 0\nvertex {x} 0 1\nendloop\nendfacet\n"
        for x in range(80)
    )
    files = {f"manta.{frame:04}.stl": f"solid bell\n{facets}endsolid bell\n".encode() for frame in range(1, 5)}
    files["manta.0003.stl"] = files["manta.0003.stl"].replace(b"vertex 70 1", b"vertex 70 x")
    files["manta.0004.stl"] = files["manta.0004.stl"][:-20]
    folder = write(tmp_path, files)
    whole = inspect_folder(folder, executor=InlineExecutor()).inspections[0]
    monkeypatch.setattr("inspector.sequence.run.storage.READ_BYTES", 300)
    monkeypatch.setattr("inspector.sequence.run.storage.PIECE_BYTES", 70)
    monkeypatch.setattr("inspector.formats.files.stl.PIECE", 1000)
    pieces = inspect_folder(folder, executor=InlineExecutor()).inspections[0]
    assert pieces.series.facts == whole.series.facts
    assert [facts.readable for facts in whole.series.facts] == [True, True, False, False]
