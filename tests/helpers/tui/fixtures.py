"""What tests of the terminal UI share: a cache of their own, and short waits."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from rich.traceback import Traceback


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


class _WithoutLocals(Traceback):
    def __init__(self, *words: Any, **settings: Any) -> None:
        super().__init__(*words, **settings | {"show_locals": False})


@pytest.fixture(autouse=True)
def short_tracebacks(monkeypatch: pytest.MonkeyPatch) -> None:
    """The library prints every local variable of every call, which is 16,000 lines about a session."""
    monkeypatch.setattr("rich.traceback.Traceback", _WithoutLocals)
