"""Write files to paths that the user gives, outside the folders that are read.

A file is written completely or not at all.
"""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from inspector.delivery.destination import refuse_unwritable
from inspector.delivery.open_folder import OpenFolder
from inspector.errors import MeshqcError, Refusal
from inspector.names import Name, joined_words
from inspector.sequence.discovery.scope import Scope


def refuse_early(paths: Iterable[Path], endings: tuple[str, ...], read: Scope, option: str = "--output") -> list[Path]:
    """Check the paths of output files before any work is done.

    Args:
        paths: The paths as the user typed them.
        endings: Allowed file name endings, in lower case.
        read: The folders that are read, where nothing may be written.
        option: The option that named the files, for messages; "" if there is none.

    Returns:
        The paths, with all links in their parents resolved.

    Raises:
        Refusal: Something exists at one of the paths, or a path is inside a folder that is read.
        MeshqcError: A path is given twice or has an ending that is not allowed, or its folder doesn't exist or can't be
            written to.
    """
    seen: dict[Path, Path] = {}
    for path in paths:
        name = Name.from_path(path)
        if path.suffix.lower() not in endings:
            raise MeshqcError(f"{option} {name}: the name must end in {joined_words(endings, 'or')}".lstrip())
        if path.absolute() in seen:
            raise MeshqcError(f"{option} {name}: given twice".lstrip())
        seen[path.absolute()] = _place(path)
        if not path.parent.is_dir():
            raise MeshqcError(f"{Name.from_path(path.parent)}: no such folder; create it first")
        if read.contains(path.absolute()):
            raise Refusal(f"{name}: inside a source folder, which is never written to; choose another folder")
        if os.path.lexists(path):
            raise Refusal(_there(name))
        refuse_unwritable(path.parent)
    return list(seen.values())


def write_new(path: Path, content: bytes) -> None:
    """Write a new file. If the file system supports hard links, the file gets its name only when it is complete.

    Args:
        path: Path of the file.
        content: The content.

    Raises:
        Refusal: The name is taken.
        OSError: The file can't be written.
    """
    write_placed(_place(path), content)


def write_placed(place: Path, content: bytes) -> None:
    """Write a new file as `write_new` does, at a path that `refuse_early` returned. No link is followed.

    Args:
        place: The path.
        content: The content.

    Raises:
        Refusal: The name is taken.
        OSError: The file can't be written.
    """
    with _drafted(place, content) as (folder, draft):
        try:
            # Creating a link never replaces a file that was just created by another process. If the file system has no
            # hard links, the file is created directly.
            try:
                folder.link(draft, place.name)
            except OSError:
                folder.create(place.name, content)
        except FileExistsError:
            raise Refusal(_there(Name.from_path(place))) from None


def write_over(path: Path, content: bytes) -> None:
    """Write a file, or replace an existing file in one step. If the path is a link, the link is replaced.

    Args:
        path: Path of the file.
        content: The content.

    Raises:
        OSError: The file can't be written.
    """
    place = _place(path)
    with _drafted(place, content) as (folder, draft):
        folder.rename(draft, folder, place.name)


def write_folder(place: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a new folder. The folder gets its name only when all files are on the disk.

    Args:
        place: The path that `destination.place_for` returned.
        files: Content of each file, by name.

    Raises:
        Refusal: The name has been taken in the meantime.
        OSError: The files can't be written. The error contains the path of the folder.
    """
    draft = f".meshqc-{secrets.token_hex(8)}"
    try:
        with OpenFolder.at(place.parent) as parent:
            try:
                with parent.inner(draft, make=True) as folder:
                    for name, content in files.items():
                        folder.create(name, content)
                    folder.sync()
                if parent.status(place.name) is not None:
                    raise Refusal(_there(Name.from_path(place)))
                parent.rename(draft, parent, place.name)
            except BaseException:
                parent.remove_tree(draft)
                raise
    except OSError as error:
        error.filename = os.fspath(place)  # the name that the user knows
        raise


@contextmanager
def _drafted(place: Path, content: bytes) -> Iterator[tuple[OpenFolder, str]]:
    """Write a file under a temporary name beside `place`, and yield the folder and the temporary name. At the end, this
    name is removed from the folder.

    Raises:
        OSError: The file can't be written. The error contains the path `place`.
    """
    draft = f".meshqc-{secrets.token_hex(8)}"
    try:
        with OpenFolder.at(place.parent) as folder:
            try:
                folder.create(draft, content)
                yield folder, draft
            finally:
                folder.remove(draft)
    except OSError as error:
        error.filename = os.fspath(place)  # the name that the user knows
        raise


def _place(path: Path) -> Path:
    return Path(os.path.realpath(path.parent)) / path.name


def _there(name: Name) -> str:
    return f"{name}: already exists; choose another name"
