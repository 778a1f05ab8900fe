"""The hidden folder in which a delivery is built. Each file is complete on the disk before it gets its name.

The folder and its parent stay open, so that replacing one of them with a link has no effect.
"""

from __future__ import annotations

import contextlib
import errno
import os
import shutil
import stat
from collections.abc import Callable, Iterator
from pathlib import Path

from inspector.delivery.destination import parts_of
from inspector.delivery.journal import Busy, Journal, WrittenFile, delivery_of, may_be_ours, open_locked, sha256
from inspector.delivery.open_folder import OpenFolder
from inspector.errors import MeshqcError, Refusal
from inspector.names import Name

_State = tuple[int, int, int, int] | None
_FILES = "files"
_DRAFT = "draft"
_TRIES = 3
_TAKEN = (errno.EEXIST, errno.ENOTEMPTY, errno.ENOTDIR)
"""Error numbers that mean that a folder can't be renamed because the new name is taken (POSIX, rename)."""


class Staging:
    """The folder `.NAME.XXXXXXXX.unfinished` beside the delivery. Each delivery has a folder of its own.

    The folder contains the journal, a draft of the file that is being written, and the folder `files`, which becomes
    the delivery. Only the next run of the same plan keeps files that the journal records; any other run discards them.

    Attributes:
        out: Path of the delivery.
        folder: Path of this folder.
        files: Path of the folder that becomes the delivery.
    """

    def __init__(self, out: Path, digest: str) -> None:
        """Set the paths. Nothing is created yet.

        Args:
            out: Path of the delivery, with all links in its parents resolved.
            digest: Digest of the plan and its sources. Only work with the same digest is resumed.
        """
        self.out = out
        self.folder = out.parent / _name_for(out.name)
        self.files = self.folder / _FILES
        self._digest = digest
        self._states: dict[str, _State] = {}
        self._held = contextlib.ExitStack()

    def __enter__(self) -> Staging:
        """Create or resume the folder.

        Raises:
            Refusal: Something else has the name of the folder, or another run is using the folder.
            OSError: The folder can't be created.
        """
        with contextlib.ExitStack() as held:
            self._parent = held.enter_context(OpenFolder.at(self.out.parent))
            _sweep(self._parent)
            try:
                self._work, self._journal = self._opened(held)
                if not self._journal.begun and self._work.status(_FILES) is not None:
                    self._work.remove_tree(_FILES)  # files of another plan
                self._files = held.enter_context(self._work.inner(_FILES, make=True))
            except OSError:
                held.pop_all().close()  # also releases the lock
                self._remove_empty()
                raise
            self._held = held.pop_all()
        return self

    def __exit__(self, *_: object) -> None:
        self._journal.close()
        _sweep(self._parent)
        self._remove_empty()
        self._held.close()

    def _remove_empty(self) -> None:
        """Remove the staging folder if it has no files for the next run, and no process is using it."""
        with (
            contextlib.suppress(OSError, Busy),
            OpenFolder.at(self.out.parent) as parent,
            parent.inner(self.folder.name) as work,
        ):
            if not work.names():  # the journal could not be created
                parent.remove_tree(self.folder.name)
                return
            with open_locked(work):
                if may_be_ours(work, self.out.name) and not _has_files(work):
                    parent.remove_tree(self.folder.name)

    def _opened(self, held: contextlib.ExitStack) -> tuple[OpenFolder, Journal]:
        for _ in range(_TRIES):
            try:
                work = held.enter_context(self._parent.inner(self.folder.name, make=True))
            except NotADirectoryError as error:
                raise self._in_the_way() from error
            if work.names() and not may_be_ours(work, self.out.name):
                raise self._in_the_way()
            # The process that had the lock may have finished and removed the folder in the meantime.
            with contextlib.suppress(Busy, FileNotFoundError):
                journal = Journal(work, self.out.name, self._digest)
                held.callback(journal.close)
                return work, journal
        raise Refusal(
            f"{Name.from_path(self.out)}: another run is writing to this path; wait until that run ends, or choose "
            "another name"
        )

    def _in_the_way(self) -> Refusal:
        return Refusal(
            f"{Name.from_path(self.folder)}: already exists and was not created by meshqc; move or rename it"
        )

    def refuse_small_disk(self, needed: int) -> None:
        """Check that the disk has enough free space for the delivery.

        Args:
            needed: A low estimate of the size of the delivery, in bytes.

        Raises:
            MeshqcError: `needed` exceeds the free space plus the size of the files that an earlier run wrote.
        """
        free = shutil.disk_usage(self.out.parent).free
        begun = sum(path.stat().st_size for path in self.files.rglob("*") if path.is_file())
        if needed > free + begun:
            raise MeshqcError(
                f"{Name.from_path(self.out)} needs about {needed / 1e6:,.3f} MB, but only {free / 1e6:,.3f} MB is "
                "free, so nothing was written; free some space or choose another folder"
            )

    def done(self, path: str) -> WrittenFile | None:
        """Return the record of a file that an earlier run wrote; None if the file doesn't exist or has changed."""
        written = self._journal.done.get(path)
        try:
            if written is None or sha256(self.read(path)) != written.sha256:
                return None
            *folders, name = parts_of(path)
            with self._folder(folders) as folder:
                self._states[path] = _state(folder, name)
        except OSError:
            return None
        return written

    def write(self, data: bytes, written: WrittenFile) -> None:
        """Write a file, completely or not at all, and record it in the journal.

        Args:
            data: The content.
            written: The record of the file.

        Raises:
            OSError: The file can't be written.
        """
        self.put(written.path, data)
        self._journal.record(written)

    def put(self, path: str, data: bytes) -> None:
        """Write a file, completely or not at all, without recording it. Every run writes such files again.

        Args:
            path: Path in the delivery.
            data: The content.

        Raises:
            OSError: The file can't be written.
        """
        *folders, name = parts_of(path)
        self._work.remove(_DRAFT)
        self._work.create(_DRAFT, data)
        with self._folder(folders, make=True) as folder:
            self._work.rename(_DRAFT, folder, name)
            self._states[path] = _state(folder, name)

    def read(self, path: str) -> bytes:
        """Read a file of the delivery from the disk.

        Raises:
            OSError: The file can't be read.
        """
        *folders, name = parts_of(path)
        with self._folder(folders) as folder:
            return folder.read(name)

    def made(self, name: str, make: Callable[[Path], None]) -> bytes:
        """Return the content of a temporary file that `make` writes.

        Args:
            name: Name of the temporary file.
            make: Function that writes the file to a given path.

        Raises:
            OSError: The file can't be written or read.
        """
        self._work.remove(name)
        try:
            make(self._work.path_of(name))
            return self._work.read(name)
        finally:
            self._work.remove(name)

    def is_case_sensitive(self) -> bool:
        """Whether names that differ only in case refer to different files on this file system.

        Raises:
            OSError: A file for the test can't be created.
        """
        self._work.remove(_DRAFT)
        self._work.create(_DRAFT, b"")
        return self._work.status(_DRAFT.upper()) is None

    def keep_only(self, paths: set[str]) -> None:
        """Remove all files of the delivery except `paths`, and then remove empty folders.

        Args:
            paths: Paths of the files to keep.

        Raises:
            OSError: Something can't be removed.
        """
        self._files.keep_only(paths)
        self._states = {path: state for path, state in self._states.items() if path in paths}

    def discard(self) -> None:
        """Remove the staging folder and all its content.

        Raises:
            OSError: Something can't be removed.
        """
        self._parent.remove_tree(self.folder.name)

    def ours(self) -> None:
        """Check that the paths still refer to the open folders, because some files are read and verified by path.

        Raises:
            MeshqcError: The staging folder has been moved or replaced.
        """
        if not all(folder.in_place() for folder in (self._parent, self._work, self._files)):
            raise MeshqcError(
                f"{Name.from_path(self.folder)}: was moved or replaced while it was being written; nothing was "
                "delivered"
            )

    def finish(self) -> None:
        """Move the folder `files` to the path of the delivery.

        Raises:
            Refusal: The path has been taken in the meantime.
            MeshqcError: A file or the staging folder has been changed, moved or replaced.
            OSError: The folder can't be moved.
        """
        self.ours()
        for folder, name, path in self._files.files():
            if self._states.get(path) != _state(folder, name):
                raise MeshqcError(
                    f"{Name.from_path(path)}: changed while it was being delivered; nothing was delivered"
                )
        for folders in {tuple(parts_of(path))[:-1] for path in self._states}:
            for depth in range(len(folders) + 1):
                with self._folder(folders[:depth]) as folder:
                    folder.sync()
        try:
            if self._parent.status(self.out.name) is not None:
                raise FileExistsError(errno.EEXIST, "")
            self._work.rename(_FILES, self._parent, self.out.name)
        except OSError as error:
            if error.errno not in _TAKEN:
                raise
            taken = Name.from_path(self.out)
            raise Refusal(f"{taken}: the name has been taken in the meantime; choose another name") from error
        self._parent.sync()

    @contextlib.contextmanager
    def _folder(self, parts: list[str] | tuple[str, ...], make: bool = False) -> Iterator[OpenFolder]:
        """Open a folder of the delivery, one component of its path at a time."""
        with contextlib.ExitStack() as held:
            folder = self._files
            for part in parts:
                folder = held.enter_context(folder.inner(part, make))
            yield folder


def _state(folder: OpenFolder, name: str) -> _State:
    """Return the device, inode, size and modification time of a regular file; None if there is no such file."""
    status = folder.status(name)
    if status is None or not stat.S_ISREG(status.st_mode):
        return None
    return status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns


def _has_files(work: OpenFolder) -> bool:
    if work.status(_FILES) is None:
        return False
    with work.inner(_FILES) as files:
        return next(files.files(), None) is not None


def _name_for(out: str) -> str:
    """Return the name of the staging folder, which is unique to the delivery and short enough for file systems."""
    return f".{out[:40]}.{sha256(os.fsencode(out))[:8]}.unfinished"


def _sweep(parent: OpenFolder) -> None:
    """Remove unfinished work that can't be completed because something else now exists at the path of its delivery.

    A folder is removed only if its name and journal belong to one delivery and no process is using the folder.
    """
    with contextlib.suppress(OSError):
        for name in parent.names():
            if name.startswith(".") and name.endswith(".unfinished"):
                with contextlib.suppress(OSError, Busy), parent.inner(name) as folder:
                    out = delivery_of(folder)
                    if out is not None and _name_for(out) == name and parent.status(out) is not None:
                        with open_locked(folder):
                            parent.remove_tree(name)


def disk_error(error: OSError, staging: Staging) -> MeshqcError:
    """Return the error to report if writing failed. Its message states whether finished files are kept.

    Args:
        error: The system's error.
        staging: The staging folder.
    """
    full = error.errno in (errno.ENOSPC, errno.EDQUOT)
    free = f" ({shutil.disk_usage(staging.out.parent).free / 1e6:,.0f} MB free)" if full else ""
    begun = staging.files.is_dir() and any(staging.files.iterdir())
    rest = (
        f", but finished files are kept in the hidden folder {Name.from_path(staging.folder.name)}; run the same "
        "command to resume"
        if begun
        else ""
    )
    return MeshqcError(f"writing failed: {error.strerror}{free}. {Name.from_path(staging.out)} was not created{rest}")
