"""Folders that stay open while files are written to them.

Names are looked up in the open folder, even if the folder's path now leads elsewhere.
"""

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
"""Whether the system can look up names relative to an open folder (POSIX 2008). If not, paths are used."""

_NEVER_LINKS = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_CLOEXEC", 0)


class OpenFolder:
    """A folder that is open until `close` is called. Names are single path components, and no link is followed.

    Attributes:
        path: Path of the folder, for messages and for systems that can't look up names in an open folder.
    """

    def __init__(self, path: Path, held: int | None) -> None:
        """Wrap a folder that is already open.

        Args:
            path: The folder's path.
            held: The folder's descriptor; None if the system can't look up names in an open folder.
        """
        self.path, self._held = path, held

    @classmethod
    def at(cls, place: Path) -> OpenFolder:
        """Open the folder at a path in which all links have been resolved.

        Raises:
            OSError: The folder can't be opened, or a component of the path has become a link.
        """
        return cls(place, open_folder_place(place) if _HELD else None)

    def inner(self, name: str, make: bool = False) -> OpenFolder:
        """Open a subfolder.

        Args:
            name: Name of the subfolder.
            make: Whether to create the subfolder if it doesn't exist.

        Raises:
            OSError: The subfolder doesn't exist, is a link or a file, or can't be created or opened.
        """
        if make:
            with suppress(FileExistsError):
                os.mkdir(self._at(name), dir_fd=self._held)
        status = self.status(name)
        if status is None or not stat.S_ISDIR(status.st_mode):
            raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
        return OpenFolder(self.path / name, self.open(name, os.O_RDONLY | os.O_DIRECTORY) if _HELD else None)

    def open(self, name: str, flags: int) -> int:
        """Open a file and return its descriptor.

        Args:
            name: Name of the file.
            flags: The flags, as for `os.open`.

        Raises:
            OSError: The file can't be opened, or is a link.
        """
        return os.open(self._at(name), flags | _NEVER_LINKS, 0o666, dir_fd=self._held)

    def create(self, name: str, data: bytes) -> None:
        """Create a file, and wait until it is complete on the disk.

        Args:
            name: Name of the file.
            data: The content.

        Raises:
            FileExistsError: The name is taken.
            OSError: The file can't be written.
        """
        with os.fdopen(self.open(name, os.O_WRONLY | os.O_CREAT | os.O_EXCL), "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())

    def read(self, name: str, size: int = -1) -> bytes:
        """Read a regular file.

        Args:
            name: Name of the file.
            size: Maximum number of bytes to read; -1 for all.

        Raises:
            OSError: The file can't be read, or is not a regular file.
        """
        with os.fdopen(self.open(name, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0)), "rb", buffering=0) as file:
            if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
                raise OSError(0, "not a regular file")
            return file.read(size) or b""

    def status(self, name: str) -> os.stat_result | None:
        """Return the status of an entry without following a link; None if there is no such entry."""
        try:
            return os.stat(self._at(name), dir_fd=self._held, follow_symlinks=False)
        except FileNotFoundError:
            return None

    def names(self) -> list[str]:
        """List the names of all entries in the folder.

        Raises:
            OSError: The folder can't be read.
        """
        return os.listdir(self.path if self._held is None else self._held)

    def files(self, above: str = "") -> Iterator[tuple[OpenFolder, str, str]]:
        """Find all entries that are not folders, in this folder and its subfolders.

        Args:
            above: Path of this folder relative to the first folder of the recursion, with `/` at the end; empty for
                that first folder.

        Yields:
            For each entry, the folder that contains it, its name, and its path relative to the first folder.

        Raises:
            OSError: A folder can't be read.
        """
        for name in self.names():
            status = self.status(name)
            if status is None or not stat.S_ISDIR(status.st_mode):
                yield self, name, above + name
            else:
                with self.inner(name) as folder:
                    yield from folder.files(f"{above}{name}/")

    def keep_only(self, paths: set[str], above: str = "") -> None:
        """Remove all files except `paths` from this folder and its subfolders, and then remove empty subfolders.

        Args:
            paths: Paths of the files to keep, relative to the first folder of the recursion, with `/` between
                components.
            above: Path of this folder relative to that first folder, with `/` at the end; empty for the first folder.

        Raises:
            OSError: A folder can't be read, or an entry can't be removed.
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
        """Rename or move a file or folder. A file that already has the new name is replaced.

        Args:
            name: The current name.
            folder: The folder to move to.
            new: The new name.

        Raises:
            OSError: The file or folder can't be renamed.
        """
        os.replace(self._at(name), folder._at(new), src_dir_fd=self._held, dst_dir_fd=folder._held)

    def link(self, name: str, new: str) -> None:
        """Give a file a second name.

        Args:
            name: Name of the file.
            new: The second name.

        Raises:
            FileExistsError: The second name is taken.
            OSError: The link can't be created, for example because the file system doesn't support links.
        """
        os.link(self._at(name), self._at(new), src_dir_fd=self._held, dst_dir_fd=self._held, follow_symlinks=False)

    def remove(self, name: str) -> None:
        """Remove a file, if it exists.

        Raises:
            OSError: The file can't be removed.
        """
        with suppress(FileNotFoundError):
            os.unlink(self._at(name), dir_fd=self._held)

    def remove_tree(self, name: str) -> None:
        """Remove a folder and everything in it.

        Raises:
            OSError: Something can't be removed.
        """
        shutil.rmtree(self._at(name), dir_fd=self._held)

    def path_of(self, name: str) -> Path:
        """Return a path to a file, for code that needs a path. On Linux, the path leads through the open folder."""
        through = Path(f"/proc/self/fd/{self._held}")
        return (through if self._held is not None and through.is_dir() else self.path) / name

    def sync(self) -> None:
        """Wait until changes to the names in the folder are on the disk.

        Raises:
            OSError: The changes can't be written to the disk.
        """
        if self._held is not None:
            os.fsync(self._held)

    def in_place(self) -> bool:
        """Whether the folder's path still refers to this folder."""
        try:
            return self._held is None or os.path.samestat(os.fstat(self._held), os.lstat(self.path))
        except OSError:
            return False

    def close(self) -> None:
        if self._held is not None:
            os.close(self._held)
            self._held = None

    def __enter__(self) -> OpenFolder:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _at(self, name: str) -> str:
        return name if self._held is not None else os.fspath(self.path / name)
