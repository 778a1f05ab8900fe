"""The cache of facts: the same verdict with it, without it, and with a broken one."""

from __future__ import annotations

import os
import resource
import shutil
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest

from inspector.inspection.inspection import inspect_folder
from inspector.report.document import folder_document
from inspector.sequence.discovery.discover import Sequence, discover
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.facts_json import facts_from_json, facts_to_json
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.run.executors import InlineExecutor


@pytest.fixture
def folder(demo: Path, tmp_path: Path) -> Path:
    """The three demo sequences, written long ago."""
    copy = tmp_path / "demo"
    shutil.copytree(demo, copy)
    for path in copy.rglob("*"):
        os.utime(path, (1_700_000_000, 1_700_000_000))
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
    assert known(sequences, FactsCache(tmp_path / "cache")) == len(first) == 60
    assert facts_of(sequences, FactsCache(tmp_path / "cache")) == first


def test_the_verdict_is_the_same_with_and_without(folder: Path, tmp_path: Path) -> None:
    documents = []
    for cache in (FactsCache(None), FactsCache(tmp_path / "cache"), FactsCache(tmp_path / "cache")):
        documents.append(folder_document(inspect_folder(folder, cache=cache)))
        cache.close()
    assert documents[0] == documents[1] == documents[2]


def test_a_changed_frame_is_measured_again_and_so_is_the_next(folder: Path, tmp_path: Path) -> None:
    facts_of(discover(folder).sequences, FactsCache(tmp_path / "cache"))
    path = folder / "manta" / "manta.0010.obj"
    path.write_bytes(path.read_bytes().replace(b"v ", b"v  ", 1))
    os.utime(path, (1_700_000_100, 1_700_000_100))
    manta = next(one for one in discover(folder).sequences if one.name.display == "manta")
    unknown = [i for i, facts in enumerate(FactsCache(tmp_path / "cache").find(manta.files)) if facts is None]
    assert unknown == [9, 10], "the step of the frame behind is measured against the changed one"


def test_what_was_written_a_moment_ago_is_not_kept(folder: Path, tmp_path: Path) -> None:
    for path in folder.rglob("*"):
        os.utime(path)
    sequences = discover(folder).sequences
    facts_of(sequences, FactsCache(tmp_path / "cache"))
    assert known(sequences, FactsCache(tmp_path / "cache")) == 0


def test_a_damaged_file_is_begun_anew(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "cache").mkdir()
    (tmp_path / "cache" / "facts.sqlite").write_bytes(b"this is no database" * 1000)
    sequences = discover(folder).sequences
    assert len(facts_of(sequences, FactsCache(tmp_path / "cache"))) == 60
    assert known(sequences, FactsCache(tmp_path / "cache")) == 60


def test_a_row_that_is_not_ours_is_measured_again(folder: Path, tmp_path: Path) -> None:
    sequences = discover(folder).sequences
    first = facts_of(sequences, FactsCache(tmp_path / "cache"))
    with sqlite3.connect(tmp_path / "cache" / "facts.sqlite") as connection:
        connection.execute("UPDATE facts SET document = '{}'")
    connection.close()
    assert facts_of(sequences, FactsCache(tmp_path / "cache")) == first


def test_a_place_that_cannot_be_a_folder_switches_it_off(folder: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    assert len(facts_of(discover(folder).sequences, FactsCache(tmp_path / "file" / "cache"))) == 60


SCAN = """
import sys
from pathlib import Path
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.sequence.discovery.discover import discover
from inspector.sequence.run.executors import InlineExecutor
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
    assert {run.communicate()[0] for run in runs} == {"59\n"}
    assert all(run.returncode == 0 for run in runs)
    sequences = discover(folder).sequences
    assert known(sequences, FactsCache(tmp_path / "cache")) == 60


@pytest.mark.parametrize("limit", [0, 4096, 20_000])
def test_a_full_disk_costs_only_the_cache(folder: Path, tmp_path: Path, limit: int) -> None:
    """RLIMIT_FSIZE stands for the full disk: writes beyond it fail (setrlimit, POSIX.1-2017)."""
    assert resource.RLIMIT_FSIZE
    command = [sys.executable, "-c", SCAN, folder, tmp_path / "cache", str(limit)]
    run = subprocess.run(command, capture_output=True, text=True, check=False)
    assert (run.returncode, run.stdout, run.stderr) == (0, "59\n", "")


def test_old_rows_are_forgotten(folder: Path, tmp_path: Path) -> None:
    sequences = discover(folder).sequences
    facts_of(sequences, FactsCache(tmp_path / "cache"))
    with sqlite3.connect(tmp_path / "cache" / "facts.sqlite") as connection:
        connection.execute("UPDATE facts SET measured = ?", (int(time.time()) - 31 * 86_400,))
    connection.close()
    FactsCache(tmp_path / "cache").close()
    assert known(sequences, FactsCache(tmp_path / "cache")) == 0
