"""Where the rules of a folder stand. Imports nothing heavy: every command line comes by here."""

from __future__ import annotations

from pathlib import Path

FILE_NAME = "meshqc.toml"


def find_rules(folder: Path) -> Path | None:
    """The rules file of a folder: the nearest one in it or above it. None as well where nobody may look."""
    try:
        inner = folder.resolve()
        return next((file for at in (inner, *inner.parents) if (file := at / FILE_NAME).is_file()), None)
    except (OSError, RuntimeError):
        return None
