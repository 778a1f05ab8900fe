"""Files that a command writes where the user says: new ones, outside of what is read, whole or not at all."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path

from inspector.errors import MeshqcError, Refusal
from inspector.names import Name
from inspector.sequence.scope import Scope


def refuse_early(paths: Iterable[Path], endings: tuple[str, ...], read: Scope, option: str = "--to") -> None:
    """Nobody shall wait for a file that can't be written. read: where nothing is written; option: the one that
    names the files, if any.

    Raises MeshqcError for another ending or a name given twice; Refusal for a file that is there already and for a
    place in a folder that is read; MeshqcError as well for one in a folder that isn't there.
    """
    seen: set[Path] = set()
    for path in paths:
        name = Name.from_path(path)
        if path.suffix.lower() not in endings:
            raise MeshqcError(f"{option} {name}: a file that ends in {' or '.join(endings)} is expected".lstrip())
        if path.absolute() in seen:
            raise MeshqcError(f"{option} {name}: given twice".lstrip())
        seen.add(path.absolute())
        if not path.parent.is_dir():
            raise MeshqcError(f"{Name.from_path(path.parent)}: no such folder; make it first")
        if read.contains(path.absolute()):
            raise Refusal(f"{name}: lies inside a folder that is only read; choose another place")
        if os.path.lexists(path):
            raise Refusal(_there(name))


def write_new(path: Path, content: bytes) -> None:
    """Write a file under a name that nothing has; it gets its name once it is whole. Raises Refusal otherwise."""
    with drafted(path, content) as draft:
        _name(draft, path, content)


@contextmanager
def drafted(path: Path, content: bytes) -> Iterator[Path]:
    """The content, whole and on the disk, in a file beside `path` that is gone in the end, whatever happens."""
    try:
        descriptor, draft = tempfile.mkstemp(dir=path.parent, prefix=".meshqc-")
    except OSError as error:
        error.filename = os.fspath(path)  # the name that the user knows
        raise
    try:
        with os.fdopen(descriptor, "wb") as stream:
            stream.write(content)
            stream.flush()
            os.fsync(descriptor)
        Path(draft).chmod(0o666 & ~_umask())
        yield Path(draft)
    finally:
        Path(draft).unlink(missing_ok=True)


def _name(draft: Path, path: Path, content: bytes) -> None:
    """A link takes no name that is taken, whoever took it meanwhile; where there are no links, a new file does."""
    try:
        path.hardlink_to(draft)
    except FileExistsError:
        raise Refusal(_there(Name.from_path(path))) from None
    except OSError:
        with path.open("xb") as stream:
            stream.write(content)


def _there(name: Name) -> str:
    return f"{name}: is there already and is not touched; choose another name"


def _umask() -> int:
    """What the user takes from new files' rights; it can only be read by setting it."""
    mask = os.umask(0)
    os.umask(mask)
    return mask
