"""A path that is replaced at the last moment: after it is checked, and before it is opened."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from inspector import safe_open
from inspector.delivery import open_folder
from inspector.formats.usd import materials as usd_materials
from inspector.rules import read as rules_read
from inspector.sequence.discovery import scope
from inspector.sequence.materials import image_cache
from inspector.sequence.run import storage

Swap = Callable[[Path, Path], None]

_OPENING = (safe_open, storage, scope, image_cache, rules_read)


def instead(path: Path, away: Path) -> None:
    """Replace `path` with a link to `away`, unless `path` is already a link."""
    if not path.is_symlink():
        path.rename(path.with_name(f"was {path.name}"))
        path.symlink_to(away)


@pytest.fixture
def swap(monkeypatch: pytest.MonkeyPatch) -> Swap:
    """Return a function that takes a path and a target. When the program is about to open the path or something below
    the path, the path is replaced with a link to the target."""

    def install(path: Path, away: Path) -> None:
        file, read, folder = safe_open.open_place, safe_open.read_place, safe_open.open_folder_place

        def here(place: Path) -> None:
            if place == path or path in place.parents:
                instead(path, away)

        def opened(place: Path) -> int:
            here(place)
            return file(place)

        def opened_folder(place: Path) -> int:
            here(place)
            return folder(place)

        def read_all(place: Path) -> bytes:
            here(place)
            return read(place)

        for module in _OPENING:
            monkeypatch.setattr(module, "open_place", opened)
        monkeypatch.setattr(open_folder, "open_folder_place", opened_folder)
        monkeypatch.setattr(usd_materials, "read_place", read_all)

    return install
