"""The hidden folder in which a delivery is built: each file whole on the disk before it gets its name."""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
from pathlib import Path

from inspector.delivery.journal import Busy, Journal, Written, delivery_of, may_be_ours, open_locked
from inspector.delivery.place import parts_of
from inspector.delivery.sources import sha256
from inspector.errors import MeshqcError, Refusal
from inspector.names import Name
from inspector.sequence.storage import read_file

_JOURNAL = "journal"
_DRAFT = "draft"
_TRIES = 3
_TAKEN = (errno.EEXIST, errno.ENOTEMPTY, errno.ENOTDIR)
"""What renaming a folder fails with where something has the name (POSIX, rename)."""


class Staging:
    """The folder `.NAME.XXXXXXXX.unfinished` beside the delivery, one for each name.

    It holds the journal, a draft of the file that is being written, and `files`, which becomes the delivery. What the
    journal records as written is kept for the next run of the same plan, and dropped for another's.
    """

    def __init__(self, out: Path, digest: str) -> None:
        """out: the final place; digest: of the plan and its sources, so that only the same work is resumed."""
        self.out = out
        self.folder = _folder_for(out)
        self.files = self.folder / "files"
        self._digest = digest
        self._synced: set[Path] = set()

    def __enter__(self) -> Staging:
        """Raises Refusal if something else stands there or another run is writing, OSError if it can't be made."""
        _sweep(self.out.parent)
        self._journal = self._opened()
        if not self._journal.begun and self.files.exists():
            shutil.rmtree(self.files)  # of a plan that was dropped
        self.files.mkdir(exist_ok=True)
        return self

    def __exit__(self, *_: object) -> None:
        self._journal.close()
        _sweep(self.out.parent)

    def _opened(self) -> Journal:
        for _ in range(_TRIES):
            if not _may_use(self.folder, self.out.name):
                raise Refusal(f"{Name.from_path(self.folder)}: is in the way, and not this tool's work")
            self.folder.mkdir(exist_ok=True)
            # Who had the lock may just have finished and removed the folder.
            with contextlib.suppress(Busy, FileNotFoundError):
                return Journal(self.folder / _JOURNAL, self.out.name, self._digest)
        raise Refusal(f"{Name.from_path(self.out)}: another run is writing it; wait for it or choose another name")

    def done(self, path: str) -> Written | None:
        """What an earlier run wrote under this path, if it is still exactly that."""
        written = self._journal.done.get(path)
        try:
            return written if written and sha256(self.read(path)) == written.sha256 else None
        except OSError:
            return None

    def write(self, data: bytes, written: Written) -> None:
        """Put a file in its place, whole, and record it. Raises OSError; nothing half written has its name then."""
        self.put(written.path, data)
        self._journal.record(written)

    def put(self, path: str, data: bytes) -> None:
        """A file, whole or not at all; one that isn't recorded is made anew by every run. Raises OSError."""
        target = self._place(path)
        target.parent.mkdir(parents=True, exist_ok=True)
        self._synced.update(parent for parent in target.parents if parent.is_relative_to(self.files))
        draft = self.folder / _DRAFT
        with draft.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(target)

    def read(self, path: str) -> bytes:
        """A file as it is on the disk now. Raises OSError."""
        return read_file(self._place(path))

    def tells_case_apart(self) -> bool:
        """Whether names that differ only in case are two files on this file system. Raises OSError."""
        draft = self.folder / _DRAFT
        draft.touch()
        return not os.path.lexists(draft.with_name(_DRAFT.upper()))

    def keep_only(self, paths: set[str]) -> None:
        """Remove what an earlier run left that does not belong. Raises OSError."""
        for path in list(self.files.rglob("*")):
            if (path.is_symlink() or not path.is_dir()) and path.relative_to(self.files).as_posix() not in paths:
                path.unlink()

    def finish(self) -> None:
        """Give the files their final name. Raises Refusal if something stands there by now, OSError."""
        for folder in {self.files, *self._synced}:
            _sync_folder(folder)
        try:
            if os.path.lexists(self.out):
                raise FileExistsError(errno.EEXIST, "")
            self.files.rename(self.out)
        except OSError as error:
            if error.errno not in _TAKEN:
                raise
            name = Name.from_path(self.out)
            raise Refusal(f"{name}: appeared meanwhile and is not touched; choose another name") from error
        _sync_folder(self.out.parent)

    def _place(self, path: str) -> Path:
        return self.files.joinpath(*parts_of(path))


def _folder_for(out: Path) -> Path:
    """A name that is short enough for every file system, and for this delivery alone."""
    return out.parent / f".{out.name[:40]}.{sha256(os.fsencode(out.name))[:8]}.unfinished"


def _may_use(folder: Path, out: str) -> bool:
    """Whether nothing is there, or an empty folder, or one with a journal that was begun for this delivery."""
    if not os.path.lexists(folder):
        return True
    if folder.is_symlink() or not folder.is_dir():
        return False
    return not os.listdir(folder) or may_be_ours(folder / _JOURNAL, out)


def _sweep(parent: Path) -> None:
    """Remove unfinished work beside deliveries that stand by now: it can never get its name. Only folders of which
    name and journal agree that they are ours, and in which nobody is at work."""
    with contextlib.suppress(OSError):
        for folder in list(parent.glob(".*.unfinished")):
            out = delivery_of(folder / _JOURNAL)
            if out is None or folder.is_symlink() or _folder_for(parent / out) != folder:
                continue
            with contextlib.suppress(OSError, Busy):
                if os.path.lexists(parent / out):
                    with open_locked(folder / _JOURNAL):
                        shutil.rmtree(folder)


def _sync_folder(folder: Path) -> None:
    """Make the names in a folder durable, where the system lets a folder be opened (POSIX)."""
    if os.name != "posix":
        return
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def disk_error(error: OSError, staging: Staging) -> MeshqcError:
    """The failure in words; what is written already stays and is resumed."""
    full = error.errno in (errno.ENOSPC, errno.EDQUOT)
    free = f" ({shutil.disk_usage(staging.out.parent).free / 1e6:,.0f} MB free)" if full else ""
    begun = staging.files.is_dir() and any(staging.files.iterdir())
    rest = (
        f"; what is written is kept in {Name.from_path(staging.folder.name)} beside it and resumed by the same command"
        if begun
        else ""
    )
    return MeshqcError(
        f"writing failed: {error.strerror}{free}. Nothing stands under the name {Name.from_path(staging.out)}{rest}"
    )
