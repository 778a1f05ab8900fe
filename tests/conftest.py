"""Settings for the property tests, and fixtures that all tests can use."""

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
    """Replace the user's folders for the cache, the state and the settings, so that the tests don't change them."""
    for variable in ("XDG_CACHE_HOME", "XDG_STATE_HOME", "XDG_CONFIG_HOME"):
        os.environ[variable] = str(tmp_path_factory.mktemp(variable.lower()))


# If a shell runs the tests in the background, they ignore SIGINT, and so would every program that they start and
# interrupt.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# The objects that the tests consist of live to the end. Searching them for garbage took a tenth of the time.
gc.set_threshold(20_000, 50, 100)


def pytest_collection_finish() -> None:
    gc.collect()
    gc.freeze()


# Machines differ in speed, and a slow property test is still right.
settings.register_profile("meshqc", deadline=None)
settings.load_profile("meshqc")


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder that contains `manta`, `manta_broken`, `kelp_broken` and `buoy`. Tests must not change it."""
    folder = tmp_path_factory.mktemp("demo")
    write_demo(folder)
    return folder
