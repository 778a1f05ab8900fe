"""Tests of `still-written`."""

from __future__ import annotations

from pathlib import Path

from inspector.inspection.inspection import Inspection, check_folder, measure_all
from inspector.sequence.discovery.discover import discover
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.run.cache import FactsCache
from tests.helpers.one_thing import TEXT, broken
from tests.helpers.sequences import Heard, heard, shot


def looked_after(folder: Path, data: bytes, cache: FactsCache) -> Inspection:
    discovery = discover(folder)
    (folder / "manta.0005.obj").write_bytes(data)
    (inspection,) = check_folder(discovery, measure_all(discovery.sequences, cache), Settings()).inspections
    assert not inspection.verdict.failed
    return inspection


def said_after(folder: Path, data: bytes, cache: FactsCache) -> list[Heard]:
    return heard(looked_after(folder, data, cache))


def test_silent_then_broken(tmp_path: Path) -> None:
    folder, cache = tmp_path / "broken", FactsCache(None)
    half_written = shot() | {"manta.0005.obj": TEXT[:400]}
    broken(tmp_path, "still-written", half_written, inspect=lambda at: looked_after(at, TEXT, cache))
    for half, later in ((400, 600), (400, len(TEXT)), (0, 400), (len(TEXT), 400)):
        (folder / "manta.0005.obj").write_bytes(TEXT[:half])
        assert said_after(folder, TEXT[:later], cache) == [("still-written", "warning", [5.0])]
    assert said_after(folder, TEXT[:400], cache) == [("unreadable", "error", [5.0])]
    (folder / "manta.0005.obj").write_bytes(TEXT)
    assert said_after(folder, TEXT, cache) == []
