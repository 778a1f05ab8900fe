"""The way of every check's test: silent on a healthy shot, then exactly one thing is broken."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from inspector.checks.base.inspect import Inspection
from tests.helpers.sequences import Heard, heard, look, shot


def broken(folder: Path, check: str, files: Mapping[str, bytes], **settings: Any) -> tuple[list[Heard], Inspection]:
    """What all checks say of the files. On the healthy shot nothing is said, and the check was not skipped."""
    healthy = look(folder / "healthy", shot(), **settings)
    assert heard(healthy) == []
    assert check not in dict(healthy.verdict.skipped)
    inspection = look(folder / "broken", files, **settings)
    return heard(inspection), inspection
