"""What all tests share: settings of the property tests, and the demo's folders on disk."""

from __future__ import annotations

import gc
import os
import signal
from pathlib import Path

import pytest
from hypothesis import settings

from inspector.demo import write_demo
from tests.helpers.disk import do_not_wait

do_not_wait()


@pytest.fixture(autouse=True, scope="session")
def user_folders(tmp_path_factory: pytest.TempPathFactory) -> None:
    """The cache and the state of the person who runs the tests stay as they are."""
    for variable in ("XDG_CACHE_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME"):
        os.environ[variable] = str(tmp_path_factory.mktemp(variable.lower()))


# A shell that runs the tests in the background has them ignore SIGINT, and so would every program that they stop by it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# What the tests themselves are made of lives to the end: looking through it for garbage took a tenth of the time.
gc.set_threshold(20_000, 50, 100)


def pytest_collection_finish() -> None:
    gc.collect()
    gc.freeze()


# Machines differ in speed; a property that holds slowly still holds.
settings.register_profile("meshqc", deadline=None)
settings.load_profile("meshqc")


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with `manta`, `manta_broken`, `kelp_broken` and `buoy`, for reading only."""
    folder = tmp_path_factory.mktemp("demo")
    write_demo(folder)
    return folder
