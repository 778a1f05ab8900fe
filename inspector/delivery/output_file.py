"""Files that a command writes where the user says: new ones, outside of what is read, whole or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from inspector.delivery.destination import refuse_unwritable
from inspector.delivery.open_folder import OpenFolder
from inspector.errors import MeshqcError, Refusal
from inspector.names import Name
from inspector.sequence.discovery.scope import Scope


def refuse_early(paths: Iterable[Path], endings: tuple[str, ...], read: Scope, option: str = "--output") -> list[Path]:
    """Nobody shall wait for a file that can't be written. read: where nothing is written; option: the one that
    names the files, if any. Returns the files' places, with all links in their parents followed.

    Raises MeshqcError for another ending or a name given twice; Refusal for a file that is there already and for a
    place in a folder that is read; MeshqcError as well for one in a folder that isn't there or can't be written to.
    """
    seen: dict[Path, Path] = {}
    for path in paths:
        name = Name.from_path(path)
        if path.suffix.lower() not in endings:
            raise MeshqcError(f"{option} {name}: a file that ends in {' or '.join(endings)} is expected".lstrip())
        if path.absolute() in seen:
            raise MeshqcError(f"{option} {name}: given twice".lstrip())
        seen[path.absolute()] = _place(path)
        if not path.parent.is_dir():
            raise MeshqcError(f"{Name.from_path(path.parent)}: no such folder; make it first")
        if read.contains(path.absolute()):
            raise Refusal(f"{name}: lies inside a folder that is only read; choose another place")
        if os.path.lexists(path):
            raise Refusal(_there(name))
        refuse_unwritable(path.parent)
    return list(seen.values())


def write_new(path: Path, content: bytes) -> None:
    """Write a file under a name that nothing has; it gets its name once it is whole. Raises Refusal otherwise."""
    write_placed(_place(path), content)


def write_placed(place: Path, content: bytes) -> None:
    """As `write_new`, at a place that `refuse_early` gave: a link that took a folder's place since is not followed."""
    with _drafted(place, content) as (folder, draft):
        try:
            # A second name takes no name that is taken, whoever took it meanwhile; where there are none, a new file.
            try:
                folder.link(draft, place.name)
            except OSError:
                folder.create(place.name, content)
        except FileExistsError:
            raise Refusal(_there(Name.from_path(place))) from None


def write_over(path: Path, content: bytes) -> None:
    """Write a file in the place of another, in one go. A link that has the name is replaced, not followed."""
    place = _place(path)
    with _drafted(place, content) as (folder, draft):
        folder.rename(draft, folder, place.name)


def write_folder(place: Path, files: Mapping[str, bytes]) -> None:
    """Write files into a new folder, which gets its name once all of them are on the disk.

    Args:
        place: Where `destination.place_for` allowed it.
        files: Name -> content.

    Raises:
        Refusal: something has the name by then.
        OSError: the disk says no; the place is named.
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
    """The folder of a place, and the name there of a file with the content, on the disk; gone in the end, whatever
    happens. An OSError names the place."""
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
