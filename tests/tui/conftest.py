"""Fixtures for the tests of the terminal UI."""

from __future__ import annotations

from pathlib import Path

import pytest

from inspector.inspection.inspection import FolderInspection, inspect_folder
from tests.helpers.tui.fixtures import own_cache, short_tracebacks, short_waits

__all__ = ["own_cache", "short_tracebacks", "short_waits"]


@pytest.fixture(scope="session")
def broken(demo: Path) -> FolderInspection:
    """Return the inspection of the demo's broken manta. Tests may only read it."""
    return inspect_folder(demo / "manta_broken")
