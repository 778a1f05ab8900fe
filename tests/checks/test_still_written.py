"""still-written: a file that changes between the listing and the reading."""

from __future__ import annotations

from pathlib import Path

from inspector.checks.base.inspect import check_folder, measure_all
from inspector.sequence.cache import FactsCache
from inspector.sequence.discover import discover
from inspector.sequence.settings import Settings
from tests.checks.one_thing import TEXT, broken
from tests.helpers.sequences import Heard, heard, shot


def said_after(folder: Path, data: bytes, cache: FactsCache) -> list[Heard]:
    """What is said where frame 5 gets other content after the folder was listed."""
    discovery = discover(folder)
    (folder / "manta.0005.obj").write_bytes(data)
    (inspection,) = check_folder(discovery, measure_all(discovery.sequences, cache), Settings()).inspections
    assert not inspection.verdict.failed
    return heard(inspection)


def test_silent_then_broken(tmp_path: Path) -> None:
    """Half a frame was listed; now there is more of it, whole or not. Nothing else is said of it."""
    said, _ = broken(tmp_path, "still-written", shot())
    assert said == []
    folder, cache = tmp_path / "broken", FactsCache(None)
    for half, later in ((400, 600), (400, len(TEXT)), (0, 400), (len(TEXT), 400)):
        (folder / "manta.0005.obj").write_bytes(TEXT[:half])
        assert said_after(folder, TEXT[:later], cache) == [("still-written", "warning", [5.0])]
    assert said_after(folder, TEXT[:400], cache) == [("unreadable", "error", [5.0])]
    (folder / "manta.0005.obj").write_bytes(TEXT)
    assert said_after(folder, TEXT, cache) == []
