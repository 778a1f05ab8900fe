"""Fixtures for tests of the terminal UI."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from rich.traceback import Traceback


@pytest.fixture(autouse=True)
def own_cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Keep tests from reading and writing the user's cache and state (XDG Base Directory Specification 0.8)."""
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))


@pytest.fixture(autouse=True)
def short_waits(monkeypatch: pytest.MonkeyPatch) -> None:
    """Check every 4 ms whether the app is idle. The default interval of 20 ms would double the duration of these
    tests."""
    monkeypatch.setattr("textual._wait.SLEEP_GRANULARITY", 0.004)


class _WithoutLocals(Traceback):
    def __init__(self, *words: Any, **settings: Any) -> None:
        super().__init__(*words, **settings | {"show_locals": False})


@pytest.fixture(autouse=True)
def short_tracebacks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave local variables out of tracebacks. Otherwise, Rich prints 16,000 lines for one session."""
    monkeypatch.setattr("rich.traceback.Traceback", _WithoutLocals)
