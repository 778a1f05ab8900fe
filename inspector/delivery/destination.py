"""Check the path of a new delivery: it must be unused, and must not be inside a folder that is read."""

from __future__ import annotations

import errno
import os
from collections.abc import Iterable, Iterator
from itertools import count
from pathlib import Path

from inspector.errors import MeshqcError, Refusal
from inspector.names import Name


def place_for(out: Path, read: Iterable[Path]) -> Path:
    """Check the path of the folder to deliver to, and return it with all links in its parents resolved.

    Args:
        out: The path as the user typed it.
        read: The folders that are read.

    Raises:
        Refusal: The path doesn't name a new folder, something exists at the path, or the path is inside a folder that
            is read.
        MeshqcError: The parent folder doesn't exist or can't be written to.
    """
    place = new_place(out)
    for root in read:
        if any(_same(folder, root) for folder in (place, *place.parents)):
            where = f"inside {Name.from_path(root)}, a source folder, which is never written to"
            raise Refusal(f"{Name.from_path(out)}: {where}; choose another folder")
    return place


def new_place(out: Path) -> Path:
    """Check the path of a new folder, and return it with all links in its parents resolved.

    Raises:
        Refusal: The path doesn't name a new folder (for example, `..`), or something exists at the path.
        MeshqcError: The parent folder doesn't exist or can't be written to.
    """
    name = Name.from_path(out)
    if out.name in ("", "..", "."):
        raise Refusal(f"{name}: not a valid name for a new folder; choose another name")
    try:
        parent = out.parent.resolve(strict=True)
    except (OSError, ValueError, RuntimeError) as error:
        raise MeshqcError(f"{Name.from_path(out.parent)}: no such folder; create it first") from error
    if not parent.is_dir():
        raise MeshqcError(f"{Name.from_path(out.parent)}: not a folder")
    place = parent / out.name
    if os.path.lexists(place):
        raise Refusal(f"{name}: already exists; choose another name")
    refuse_unwritable(parent)
    return place


def refuse_unwritable(folder: Path) -> None:
    """Check that files can be created in a folder.

    Raises:
        MeshqcError: No files can be created in the folder. The message states the system's reason.
    """
    if not os.access(folder, os.W_OK | os.X_OK, effective_ids=os.access in os.supports_effective_ids):
        sealed = hasattr(os, "ST_RDONLY") and os.statvfs(folder).f_flag & os.ST_RDONLY
        reason = os.strerror(errno.EROFS if sealed else errno.EACCES)
        raise MeshqcError(f"{Name.from_path(folder)}: can't be written to ({reason}); choose another folder")


def free_name(folder: Path) -> Path:
    """Return the first unused path among `kelp_fixed`, `kelp_fixed_2`, ... beside the folder `kelp`."""
    whole = folder.resolve()
    beside = folder.parent if folder.name not in ("", "..") else whole.parent
    return unused(beside / f"{whole.name}_fixed")


def unused(place: Path) -> Path:
    """Return the path if it is unused. Otherwise, append the lowest unused number, as in `kelp_fixed_2`."""
    names = (place.with_name(f"{place.name}{f'_{number}' if number > 1 else ''}") for number in count(1))
    return next(name for name in names if not os.path.lexists(name))


def _same(folder: Path, root: Path) -> bool:
    """Whether both paths lead to the same folder, even if their names differ (links, mounts, letter case)."""
    try:
        return folder.samefile(root)
    except OSError:
        return False


def parts_of(place: str) -> Iterator[str]:
    """Yield the parts of a path inside the delivered folder.

    Raises:
        Refusal: The path leads out of the folder, or a part is not a valid name.
    """
    parts = place.split("/")
    if any(part in ("", ".", "..") or "\0" in part or (os.sep != "/" and os.sep in part) for part in parts):
        raise Refusal(f"{Name.from_path(place)}: not a valid path inside the delivered folder")
    yield from parts
