"""Folders held open while they are written to: what is done in one by name is done in it, whatever takes its path."""

from __future__ import annotations

import errno
import os
import shutil
import stat
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

from inspector.safe_open import open_folder_place

_HELD = os.open in os.supports_dir_fd and os.rename in os.supports_dir_fd
"""Whether the system can name things from an open folder (POSIX 2008); where it can't, paths have to do."""

_NEVER_LINKS = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)


class OpenFolder:
    """A folder, open until `close`. Names are single ones, and no link is followed."""

    def __init__(self, path: Path, held: int | None) -> None:
        """path: for people, and where nothing is held; held: the folder's descriptor."""
        self.path, self._held = path, held

    @classmethod
    def at(cls, place: Path) -> OpenFolder:
        """A folder at a path that was judged with all its links resolved. Raises OSError, also where a part of it is a
        link by now."""
        return cls(place, open_folder_place(place) if _HELD else None)

    def inner(self, name: str, make: bool = False) -> OpenFolder:
        """A folder in it, made if it isn't there. Raises OSError; a link is none."""
        if make:
            with suppress(FileExistsError):
                os.mkdir(self._at(name), dir_fd=self._held)
        status = self.status(name)
        if status is None or not stat.S_ISDIR(status.st_mode):
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        return OpenFolder(self.path / name, self.open(name, os.O_RDONLY | os.O_DIRECTORY) if _HELD else None)

    def open(self, name: str, flags: int) -> int:
        """A file's descriptor. Raises OSError."""
        return os.open(self._at(name), flags | _NEVER_LINKS, 0o666, dir_fd=self._held)

    def create(self, name: str, data: bytes) -> None:
        """A new file, whole and on the disk. Raises OSError, FileExistsError where the name is taken."""
        with os.fdopen(self.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    def read(self, name: str, size: int = -1) -> bytes:
        """The bytes of a regular file, the first `size` of them. Raises OSError."""
        with os.fdopen(self.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0)), "rb", buffering=0) as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise OSError(0, "not a regular file")
            return file.read(size) or b""

    def status(self, name: str) -> os.stat_result | None:
        """Of what has the name, links themselves included; None where nothing has."""
        try:
            return os.stat(self._at(name), dir_fd=self._held, follow_symlinks=False)
        except FileNotFoundError:
            return None

    def names(self) -> list[str]:
        """Of all that is in it. Raises OSError."""
        return os.listdir(self.path if self._held is None else self._held)

    def files(self, above: str = "") -> Iterator[tuple[OpenFolder, str, str]]:
        """All that is no folder, here and below: the folder it is in, its name there, its path from here."""
        for name in self.names():
            status = self.status(name)
            if status is None or not stat.S_ISDIR(status.st_mode):
                yield self, name, above + name
            else:
                with self.inner(name) as folder:
                    yield from folder.files(f"{above}{name}/")

    def keep_only(self, paths: set[str], above: str = "") -> None:
        """Remove every other file, here and below, and folders that hold nothing. Raises OSError.

        Args:
            paths: from the folder where this began, with `/` between the parts.
            above: the path from there to this folder, with `/` at its end.
        """
        for name in self.names():
            status, path = self.status(name), above + name
            if status is not None and stat.S_ISDIR(status.st_mode):
                with self.inner(name) as folder:
                    folder.keep_only(paths, f"{path}/")
                    empty = not folder.names()
                if empty:
                    os.rmdir(self._at(name), dir_fd=self._held)
            elif path not in paths:
                self.remove(name)

    def rename(self, name: str, folder: OpenFolder, new: str) -> None:
        """Raises OSError."""
        os.replace(self._at(name), folder._at(new), src_dir_fd=self._held, dst_dir_fd=folder._held)

    def link(self, name: str, new: str) -> None:
        """A second name for a file. Raises OSError, FileExistsError where it is taken."""
        os.link(self._at(name), self._at(new), src_dir_fd=self._held, dst_dir_fd=self._held, follow_symlinks=False)

    def remove(self, name: str) -> None:
        """A file, if it is there. Raises OSError."""
        with suppress(FileNotFoundError):
            os.unlink(self._at(name), dir_fd=self._held)

    def remove_tree(self, name: str) -> None:
        """A folder with all that is in it. Raises OSError."""
        shutil.rmtree(self._at(name), dir_fd=self._held)

    def path_of(self, name: str) -> Path:
        """For who opens files by their path alone: through the open folder where the system knows such (Linux)."""
        through = Path(f"/proc/self/fd/{self._held}")
        return (through if self._held is not None and through.is_dir() else self.path) / name

    def sync(self) -> None:
        """Make the names in it durable."""
        if self._held is not None:
            os.fsync(self._held)

    def in_place(self) -> bool:
        """Whether its path still leads to it."""
        try:
            return self._held is None or os.path.samestat(os.fstat(self._held), os.lstat(self.path))
        except OSError:
            return False

    def close(self) -> None:
        """Let go of it; nothing is done in it any more."""
        if self._held is not None:
            os.close(self._held)
            self._held = None

    def __enter__(self) -> OpenFolder:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _at(self, name: str) -> str:
        return name if self._held is not None else os.fspath(self.path / name)
