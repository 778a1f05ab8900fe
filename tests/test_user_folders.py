"""Tests of the user's folders, with and without a home folder, and of a limit on threads, as in a container."""

from __future__ import annotations

import pwd
from pathlib import Path

import pytest

from inspector.sequence.discovery.discover import discover
from inspector.sequence.run import executors, storage
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.collect import collect
from inspector.tui.saved_state import SavedState, last_folder, save
from inspector.user_folders import user_folder


@pytest.fixture
def homeless(monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("HOME", "XDG_CACHE_HOME", "XDG_STATE_HOME"):
        monkeypatch.delenv(name, raising=False)

    def nobody(_: int) -> None:
        raise KeyError("no such user")

    monkeypatch.setattr(pwd, "getpwuid", nobody)


@pytest.mark.usefixtures("homeless")
def test_without_a_home_there_is_no_folder_and_no_state(tmp_path: Path) -> None:
    assert user_folder("cache") is None
    assert user_folder("state") is None
    save(tmp_path, SavedState())
    assert last_folder() is None


def test_the_folders_of_the_specification(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The folders are those of the XDG Base Directory Specification 0.8."""
    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.delenv("XDG_CACHE_HOME", raising=False)
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "elsewhere"))
    assert user_folder("cache") == tmp_path / ".cache" / "meshqc"
    assert user_folder("state") == tmp_path / "elsewhere" / "meshqc"


@pytest.mark.parametrize("allowed", [0, 1, 2])
def test_a_limit_on_threads_costs_only_speed(demo: Path, monkeypatch: pytest.MonkeyPatch, allowed: int) -> None:
    """Python raises RuntimeError if the system can't start another thread (CPython documentation, threading)."""
    left = [allowed]

    def limited(start: object) -> object:
        def begin(self: object) -> None:
            if left[0] < 1:
                raise RuntimeError("can't start new thread")
            left[0] -= 1
            start(self)  # type: ignore[operator]

        return begin

    sequences = discover(demo / "manta").sequences
    expected = sorted(collect(sequences, FactsCache(None), executors.InlineExecutor()), key=lambda one: one[:2])
    monkeypatch.setattr(storage.threading.Thread, "start", limited(storage.threading.Thread.start))
    got = sorted(collect(sequences, FactsCache(None), executors.ThreadExecutor(3)), key=lambda one: one[:2])
    assert got == expected
