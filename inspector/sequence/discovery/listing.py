"""List the mesh files below a folder. No file is opened, and links to folders are not followed."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from inspector.formats.registry import animations_by_ending, by_ending
from inspector.safe_open import FileState, file_state

_KINDS = {
    stat.S_IFDIR: "a folder, not a file; its contents were not read",
    stat.S_IFIFO: "a pipe, not a file",
    stat.S_IFSOCK: "a socket, not a file",
    stat.S_IFCHR: "a device, not a file",
    stat.S_IFBLK: "a device, not a file",
}


@dataclass(frozen=True, slots=True)
class MeshFile:
    """A regular file with the extension of a mesh file.

    Attributes:
        base: The file name without the extension.
        suffix: The extension as written, with the dot.
        path: The path of the file.
        place: The path with all links resolved.
        state: The identity of its content (safe_open.file_state).
    """

    base: bytes
    suffix: bytes
    path: bytes
    place: bytes
    state: FileState


@dataclass(frozen=True, slots=True)
class Listing:
    """The mesh files and scene files of one folder.

    Attributes:
        folder: Path of the folder.
        meshes: Its mesh files, sorted by name.
        animations: Its scene files.
        unusual: Paths that can't be used, each with the reason: entries that are named like mesh files, links to
            folders, and the folder itself if it can't be read.
    """

    folder: bytes
    meshes: list[MeshFile] = field(default_factory=list)
    animations: list[Path] = field(default_factory=list)
    unusual: list[tuple[Path, str]] = field(default_factory=list)


def list_folders(root: bytes) -> Iterator[Listing]:
    """Yield the listings of a folder and of all folders below it, in the order of their paths.

    Folders that are hidden or named like mesh files are not listed. The root is an absolute path with all links
    resolved.
    """
    pending = [root]
    while pending:
        listing = Listing(pending.pop())
        yield listing if (entries := _entries(listing)) is None else _list(listing, entries, root)
        pending.extend(
            entry.path
            for entry in reversed(entries or [])
            if entry.is_dir(follow_symlinks=False) and not _hidden(entry) and not mesh_suffix(entry.name)
        )


def mesh_suffix(name: bytes) -> bytes:
    """Return the extension of a mesh file or scene file, as written; b"" for any other name."""
    ending = name[name.rfind(b".") :] if b"." in name else b""
    return ending if ending.lower() in by_ending() or ending.lower() in animations_by_ending() else b""


def path_of(raw: bytes) -> Path:
    """Convert a path from bytes, as the file system stores it, to a Path."""
    return Path(os.fsdecode(raw))


def _entries(listing: Listing) -> list[os.DirEntry[bytes]] | None:
    try:
        with os.scandir(listing.folder) as entries:
            found = sorted(entries, key=lambda entry: entry.name)
        if os.path.realpath(listing.folder) != listing.folder:
            raise OSError(0, "it was replaced by a link, so it was skipped")
        return found
    except OSError as error:
        listing.unusual.append((path_of(listing.folder), f"a folder that can't be read ({error.strerror})"))
        return None


def _list(listing: Listing, entries: list[os.DirEntry[bytes]], root: bytes) -> Listing:
    for entry in entries:
        suffix = mesh_suffix(entry.name)
        if not suffix:
            if entry.is_symlink() and not _hidden(entry) and _leads_to_folder(entry):
                listing.unusual.append((path_of(entry.path), "a link to a folder; such links are not followed"))
        elif not entry.name.startswith(b"._"):  # macOS keeps file attributes in side files of this name
            found = _status(entry, root)
            if isinstance(found, str):
                listing.unusual.append((path_of(entry.path), found))
            elif suffix.lower() in animations_by_ending():
                listing.animations.append(path_of(entry.path))
            else:
                listing.meshes.append(MeshFile(entry.name[: -len(suffix)], suffix, entry.path, *found))
    return listing


def _leads_to_folder(link: os.DirEntry[bytes]) -> bool:
    try:
        return link.is_dir()
    except OSError:
        return False


def _hidden(entry: os.DirEntry[bytes]) -> bool:
    return entry.name.startswith(b".")


def _status(entry: os.DirEntry[bytes], root: bytes) -> tuple[bytes, FileState] | str:
    """If an entry is a regular file, or a link to a regular file inside the folder, return the resolved path and the
    state of the file. Otherwise, return the reason why the entry is not read."""
    place = entry.path
    try:
        if entry.is_symlink():
            place = os.path.realpath(entry.path, strict=True)
            if not place.startswith(root.rstrip(b"/") + b"/"):
                return "a link to a file outside the folder; such links are not followed"
            status = path_of(place).lstat()
        else:
            status = entry.stat(follow_symlinks=False)
    except OSError as error:
        return f"a link whose target can't be opened ({error.strerror})" if entry.is_symlink() else str(error.strerror)
    if stat.S_ISREG(status.st_mode):
        return place, file_state(status)
    return _KINDS.get(stat.S_IFMT(status.st_mode), "not a regular file")
