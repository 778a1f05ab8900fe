"""Tests of the cache of facts."""

from __future__ import annotations

import hashlib
import json
import mmap
import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from dataclasses import fields, replace
from pathlib import Path
from random import Random
from typing import Any

import numpy as np
import pytest

from inspector.formats.problems import KINDS
from inspector.inspection.inspection import inspect_folder
from inspector.report.document import folder_document
from inspector.sequence.discovery.discover import Sequence, discover
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.facts_json import MEASUREMENT, facts_from_json, facts_to_json
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.run.executors import InlineExecutor
from tests.helpers.gltf import scene, triangle

MANY, FEW = 84, 24


@pytest.fixture
def folder(demo: Path, tmp_path: Path) -> Path:
    return written_long_ago(demo, tmp_path / "demo")


@pytest.fixture
def few(demo: Path, tmp_path: Path) -> Path:
    return written_long_ago(demo / "manta", tmp_path / "demo" / "manta").parent


def written_long_ago(source: Path, copy: Path) -> Path:
    shutil.copytree(source, copy)
    for path in copy.rglob("*"):
        os.utime(path, (1_700_000_000, 1_700_000_000))
    time.sleep(0.2)  # a file that changed less than a clock tick ago is not cached
    return copy


def facts_of(sequences: tuple[Sequence, ...], cache: FactsCache) -> dict[tuple[int, int], FrameFacts]:
    found = {(number, index): one for number, index, one in collect(sequences, cache, InlineExecutor())}
    cache.close()
    return found


def known(sequences: tuple[Sequence, ...], cache: FactsCache) -> int:
    return sum(facts is not None for sequence in sequences for facts in cache.find(sequence.files))


def test_facts_survive_json_exactly(folder: Path) -> None:
    for one in facts_of(discover(folder).sequences, FactsCache(None)).values():
        assert facts_from_json(facts_to_json(one), one.file) == one


def test_the_second_run_finds_every_frame_and_the_same_facts(folder: Path, tmp_path: Path) -> None:
    sequences = discover(folder).sequences
    first = facts_of(sequences, FactsCache(tmp_path / "cache"))
    assert known(sequences, FactsCache(tmp_path / "cache")) == len(first) == MANY
    assert facts_of(sequences, FactsCache(tmp_path / "cache")) == first


def test_the_verdict_is_the_same_with_and_without(folder: Path, tmp_path: Path) -> None:
    documents = []
    for cache in (FactsCache(None), FactsCache(tmp_path / "cache"), FactsCache(tmp_path / "cache")):
        documents.append(folder_document(inspect_folder(folder, cache=cache)))
        cache.close()
    assert documents[0] == documents[1] == documents[2]


def test_a_changed_frame_is_measured_again_and_so_is_the_next(few: Path, tmp_path: Path) -> None:
    facts_of(discover(few).sequences, FactsCache(tmp_path / "cache"))
    path = few / "manta" / "manta.0010.obj"
    path.write_bytes(path.read_bytes().replace(b"v ", b"v  ", 1))
    os.utime(path, (1_700_000_100, 1_700_000_100))
    manta = next(one for one in discover(few).sequences if one.name.display == "manta")
    unknown = [i for i, facts in enumerate(FactsCache(tmp_path / "cache").find(manta.files)) if facts is None]
    assert unknown == [9, 10], "the step of the next frame is measured against the changed one"


def overwrite(path: Path, data: bytes) -> None:
    path.write_bytes(data)


def move_into_place(path: Path, data: bytes) -> None:
    other = path.with_name("other")
    other.write_bytes(data)
    other.replace(path)


def write_through_a_map(path: Path, data: bytes) -> None:
    with path.open("r+b") as file, mmap.mmap(file.fileno(), 0) as view:
        view[:] = data


def overwrite_a_hard_link(path: Path, data: bytes) -> None:
    other = path.with_name("other")
    other.hardlink_to(path)
    other.write_bytes(data)
    other.unlink()


@pytest.mark.parametrize("replace", [overwrite, move_into_place, write_through_a_map, overwrite_a_hard_link])
def test_a_frame_of_equal_size_and_time_is_measured_again(
    few: Path, tmp_path: Path, replace: Callable[[Path, bytes], None]
) -> None:
    """`cp -p`, `rsync -t` and archives with fixed dates keep the modification time of a file, but not its change time.
    Source: POSIX, utime, which sets the change time to the current time."""
    facts_of(discover(few).sequences, FactsCache(tmp_path / "cache"))
    path = few / "manta" / "manta.0010.obj"
    data, before = path.read_bytes(), path.stat()
    start = data.index(b"\nv ") + 3
    changed = data[:start] + (b"9" if data[start : start + 1] != b"9" else b"8") + data[start + 1 :]
    replace(path, changed)
    os.utime(path, ns=(before.st_atime_ns, before.st_mtime_ns))
    assert (path.stat().st_size, path.stat().st_mtime_ns) == (before.st_size, before.st_mtime_ns)
    sequences = discover(few).sequences
    assert facts_of(sequences, FactsCache(tmp_path / "cache")) == facts_of(sequences, FactsCache(None))


def test_a_frame_that_may_still_lie_in_a_dirty_memory_map_is_not_kept(few: Path, tmp_path: Path) -> None:
    """A write to a dirty page changes the file's times only when the system writes the page back."""
    for path in few.rglob("*.obj"):
        os.utime(path, (time.time() - 30.0,) * 2)
    time.sleep(0.2)
    sequences = discover(few).sequences
    facts_of(sequences, FactsCache(tmp_path / "cache"))
    assert known(sequences, FactsCache(tmp_path / "cache")) == 0


def test_damage_in_a_row_is_noticed_whatever_it_hits(folder: Path, tmp_path: Path) -> None:
    sequences = discover(folder).sequences
    first = facts_of(sequences, FactsCache(tmp_path / "cache"))
    random = Random(20261128)
    with sqlite3.connect(tmp_path / "cache" / "facts.sqlite") as connection:
        for key, document in connection.execute("SELECT key, document FROM facts").fetchall():
            at = random.randrange(len(document))
            flipped = document[:at] + ("1" if document[at] != "1" else "2") + document[at + 1 :]
            connection.execute("UPDATE facts SET document = ? WHERE key = ?", (flipped, key))
    connection.close()
    assert known(sequences, FactsCache(tmp_path / "cache")) == 0
    assert facts_of(sequences, FactsCache(tmp_path / "cache")) == first


@pytest.mark.parametrize("value", ["5", 5, 2.5, b"\xff\0", None, "[]", '{"readable": 7}'])
def test_a_row_of_another_type_is_measured_again(few: Path, tmp_path: Path, value: object) -> None:
    sequences = discover(few).sequences
    first = facts_of(sequences, FactsCache(tmp_path / "cache"))
    with sqlite3.connect(tmp_path / "cache" / "facts.sqlite") as connection:
        connection.execute("UPDATE facts SET document = ?", (value,))
    connection.close()
    assert facts_of(sequences, FactsCache(tmp_path / "cache")) == first


def test_facts_of_another_type_are_refused(few: Path) -> None:
    (one, *_) = facts_of(discover(few).sequences, FactsCache(None)).values()
    good = facts_to_json(one)
    for key, wrong in (("vertices", "6"), ("readable", 1), ("step", "x"), ("faces", 2.5), ("format", None)):
        with pytest.raises((TypeError, ValueError, KeyError)):
            facts_from_json({**good, key: wrong}, one.file)


def test_another_measurement_has_another_version(demo: Path) -> None:
    """The digest covers the kinds of problems, and everything that is measured on the demo data, rounded to six digits.

    After an intended change, increase MEASUREMENT in facts_json.py, and then state its new value and the new digest
    here. A new kind of problem also counts as a change, because frames may have been cached by a version that doesn't
    know it.
    """
    rounded: list[list[Any]] = [sorted(KINDS)]
    for (number, index), facts in sorted(facts_of(discover(demo).sequences, FactsCache(None)).items()):
        document = facts_to_json(facts) | {"beside": []}
        rounded.append([number, index, json.loads(json.dumps(document), parse_float=lambda text: f"{float(text):.6g}")])
    digest = hashlib.sha256(json.dumps(rounded, sort_keys=True).encode()).hexdigest()[:16]
    assert (MEASUREMENT, digest) == (26, "820c1f8315fecf62"), (
        "what is measured has changed, or KINDS of formats/problems.py: on purpose, count MEASUREMENT up in "
        "measure/facts_json.py and write both values here, or a filled cache hides the change; otherwise a measure is "
        "broken"
    )


def test_every_fact_is_kept(demo: Path) -> None:
    (one, *_) = facts_of(discover(demo).sequences, FactsCache(None)).values()
    kept = facts_to_json(one).keys() | {"number", "file"}
    lost = {field.name for field in fields(FrameFacts)} - kept
    assert not lost, f"add {sorted(lost)} to the tuple of their type at the top of measure/facts_json.py"
    assert kept == {field.name for field in fields(FrameFacts)}


def test_what_was_written_a_moment_ago_is_not_kept(few: Path, tmp_path: Path) -> None:
    for path in few.rglob("*"):
        os.utime(path)
    sequences = discover(few).sequences
    facts_of(sequences, FactsCache(tmp_path / "cache"))
    assert known(sequences, FactsCache(tmp_path / "cache")) == 0


def test_a_damaged_file_is_begun_anew(few: Path, tmp_path: Path) -> None:
    (tmp_path / "cache").mkdir()
    (tmp_path / "cache" / "facts.sqlite").write_bytes(b"this is no database" * 1000)
    sequences = discover(few).sequences
    assert len(facts_of(sequences, FactsCache(tmp_path / "cache"))) == FEW
    assert known(sequences, FactsCache(tmp_path / "cache")) == FEW


def test_a_row_that_is_not_ours_is_measured_again(few: Path, tmp_path: Path) -> None:
    sequences = discover(few).sequences
    first = facts_of(sequences, FactsCache(tmp_path / "cache"))
    with sqlite3.connect(tmp_path / "cache" / "facts.sqlite") as connection:
        connection.execute("UPDATE facts SET document = '{}'")
    connection.close()
    assert facts_of(sequences, FactsCache(tmp_path / "cache")) == first


def test_a_place_that_cannot_be_a_folder_switches_it_off(few: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    assert len(facts_of(discover(few).sequences, FactsCache(tmp_path / "file" / "cache"))) == FEW


SCAN = """
import sys
from pathlib import Path
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.discovery.discover import discover
from inspector.sequence.run.executors import InlineExecutor
from tests.helpers.gltf import scene, triangle
if len(sys.argv) > 3:
    import resource, signal
    signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (int(sys.argv[3]),) * 2)
cache = FactsCache(Path(sys.argv[2]))
print(sum(facts.readable for _, _, facts in collect(discover(Path(sys.argv[1])).sequences, cache, InlineExecutor())))
cache.close()
"""


def test_several_processes_share_it(folder: Path, tmp_path: Path) -> None:
    command = [sys.executable, "-c", SCAN, folder, tmp_path / "cache"]
    runs = [subprocess.Popen(command, stdout=subprocess.PIPE, text=True) for _ in range(4)]
    assert {run.communicate(timeout=60)[0] for run in runs} == {"83\n"}
    assert all(run.returncode == 0 for run in runs)
    sequences = discover(folder).sequences
    assert known(sequences, FactsCache(tmp_path / "cache")) == MANY


@pytest.mark.parametrize("limit", [0, 4096, 20_000])
def test_a_full_disk_costs_only_the_cache(folder: Path, tmp_path: Path, limit: int) -> None:
    """RLIMIT_FSIZE simulates the full disk: writes beyond the limit fail (setrlimit, POSIX.1-2017)."""
    assert resource.RLIMIT_FSIZE
    command = [sys.executable, "-c", SCAN, folder, tmp_path / "cache", str(limit)]
    run = subprocess.run(command, capture_output=True, text=True, check=False, timeout=120)
    assert (run.returncode, run.stdout, run.stderr) == (0, "83\n", "")


DAY = 86_400


@pytest.mark.parametrize(("days", "left"), [(29.9, FEW), (30.1, 0)])
def test_rows_not_used_for_a_month_are_forgotten(days: float, left: int, few: Path, tmp_path: Path) -> None:
    sequences = discover(few).sequences
    facts_of(sequences, FactsCache(tmp_path / "cache"))
    dated(tmp_path / "cache", time.time() - days * DAY)
    FactsCache(tmp_path / "cache").close()
    assert known(sequences, FactsCache(tmp_path / "cache")) == left


@pytest.mark.parametrize(("days", "noted"), [(0.9, False), (1.1, True), (29.9, True), (30.1, True)])
def test_a_use_counts_once_a_day(days: float, noted: bool, few: Path, tmp_path: Path) -> None:
    """The use of a row is recorded if the last record is more than a day old, and unused rows are deleted after a
    month. Half of the rows are used."""
    sequences = discover(few).sequences
    facts_of(sequences, FactsCache(tmp_path / "cache"))
    before = time.time() - days * DAY
    dated(tmp_path / "cache", before)
    cache = FactsCache(tmp_path / "cache")
    (manta,) = sequences
    assert all(cache.find(manta.files[: FEW // 2]))
    cache.close()
    others = 0 if days > 30 else FEW // 2
    expected = [int(before)] * others + [int(time.time()) if noted else int(before)] * (FEW // 2)
    assert dates(tmp_path / "cache") == pytest.approx(expected, abs=60)


def dated(cache: Path, at: float) -> None:
    with sqlite3.connect(cache / "facts.sqlite") as connection:
        connection.execute("UPDATE facts SET measured = ?", (int(at),))
    connection.close()


def dates(cache: Path) -> list[int]:
    with sqlite3.connect(cache / "facts.sqlite") as connection:
        found = [date for (date,) in connection.execute("SELECT measured FROM facts ORDER BY measured")]
    connection.close()
    return found


@pytest.fixture
def buffered(tmp_path: Path) -> Path:
    source = tmp_path / "source"
    source.mkdir()
    document, primitive = triangle()
    for number in (1, 2, 3):
        (source / f"kelp.{number:04d}.gltf").write_bytes(document.json(scene([primitive]), f"kelp.{number}.bin"))
        (source / f"kelp.{number}.bin").write_bytes(document.buffer)
    return written_long_ago(source, tmp_path / "buffered")


def facts_with(cache: Path | None, folder: Path) -> list[FrameFacts]:
    return list(facts_of(discover(folder).sequences, FactsCache(cache)).values())


@pytest.mark.parametrize("damage", ["gone", "short"])
def test_a_buffer_that_comes_back_is_read_again(buffered: Path, tmp_path: Path, damage: str) -> None:
    healthy, buffer = facts_with(None, buffered), buffered / "kelp.2.bin"
    whole, times = buffer.read_bytes(), buffer.stat()
    if damage == "gone":
        buffer.unlink()
    else:
        buffer.write_bytes(whole[:8])
        os.utime(buffer, ns=(times.st_atime_ns, times.st_mtime_ns))
        time.sleep(0.2)
    for _ in range(2):
        assert [facts.readable for facts in facts_with(tmp_path / "cache", buffered)] == [True, False, True]
    buffer.write_bytes(whole)
    os.utime(buffer, ns=(times.st_atime_ns, times.st_mtime_ns))
    again = facts_with(tmp_path / "cache", buffered)
    assert [replace(facts, beside=()) for facts in again] == [replace(facts, beside=()) for facts in healthy]


def test_the_movement_from_a_frame_whose_buffer_changed_is_measured_again(buffered: Path, tmp_path: Path) -> None:
    assert [facts.step for facts in facts_with(tmp_path / "cache", buffered)] == [None, 0, 0]
    buffer = buffered / "kelp.2.bin"
    buffer.write_bytes(
        np.add(np.frombuffer(buffer.read_bytes()[:36], np.float32), 1).tobytes() + buffer.read_bytes()[36:]
    )
    moved = [facts.step for facts in facts_with(None, buffered)]
    assert moved[2] > 0
    assert [facts.step for facts in facts_with(tmp_path / "cache", buffered)] == moved


def test_what_another_run_may_measure_is_not_kept(few: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def no_memory(*_: object) -> FrameFacts:
        raise MemoryError

    with monkeypatch.context() as patch:
        patch.setattr("inspector.sequence.run.scan.measure", no_memory)
        assert not any(facts.readable for facts in facts_with(tmp_path / "cache", few))
    assert all(facts.readable for facts in facts_with(tmp_path / "cache", few))
