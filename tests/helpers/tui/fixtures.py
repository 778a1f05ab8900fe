"""What tests of the terminal UI share: a cache of their own, and short waits."""

from __future__ import annotations

from pathlib import Path

import pytest


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The user's cache and state are neither read nor written (XDG base directory specification 0.8)."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library sleeps at least two fiftieths of a second for each key until the app is idle; a fifth of that tells
    as well, and saves half the time of these tests."""
    monkeypatch.setattr("textual._wait.SLEEP_GRANULARITY", 0.004)
