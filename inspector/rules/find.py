"""Find the rules file of a folder. Every command imports this module, so it imports no slow module."""

from __future__ import annotations

from pathlib import Path

from inspector.errors import MeshqcError
from inspector.names import Name

FILE_NAME = "meshqc.toml"


def find_rules(folder: Path) -> Path | None:
    """Find the nearest rules file in a folder or in the folders above it.

    Returns:
        The file, with all links resolved; None if there is no rules file, or if a folder can't be read.

    Raises:
        MeshqcError: The rules file in the folder itself is a link that leads out of the folder.
    """
    try:
        inner = folder.resolve()
        file = next((file for at in (inner, *inner.parents) if (file := at / FILE_NAME).is_file()), None)
        place = None if file is None else file.resolve()
    except (OSError, RuntimeError):
        return None
    if file is not None and place is not None and file.parent == inner and not place.is_relative_to(inner):
        why = "a link to a file outside the folder, so it is not followed; use --rules FILE or --no-rules"
        raise MeshqcError(f"{Name.from_path(file)}: {why}")
    return place
