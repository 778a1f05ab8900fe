"""Open files and folders at paths that were checked before.

If a link has replaced a part of a path since the check, the link is not followed.
"""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

FRAME_BYTES = 2_000_000_000
"""Maximum size, in bytes, of any file except a scene file. A frame with 2 million vertices takes 320 MB."""

FileState = tuple[int, int, int, int]
"""Size in bytes, modification time and change time in ns, and inode number of a file."""


def file_state(status: os.stat_result) -> FileState:
    """Return four values that together identify the content of a file, without reading the file.

    A copy that keeps the old modification time has a different change time, and a file renamed into place has a
    different inode number. A write to a dirty memory-mapped page is invisible until the system writes the page back.
    """
    return status.st_size, status.st_mtime_ns, status.st_ctime_ns, status.st_ino


def read_file(path: Path) -> bytes:
    """Read a regular file that the user named. A FIFO or a device is refused without waiting for data.

    Raises:
        OSError: The file can't be read, is too large, or is not a regular file.
    """
    return read_place(Path(os.path.realpath(path)))


def read_place(place: Path) -> bytes:
    """Read a regular file at a path in which all links were resolved before the path was checked.

    If a link has replaced a part of the path since the check, the file is not read.

    Raises:
        OSError: The file can't be read, is too large, or is not a regular file.
    """
    with os.fdopen(open_place(place), "rb", buffering=0) as file:
        return file.read()


def open_place(place: Path) -> int:
    """Open a regular file as `read_place` does, and return a descriptor for reading it.

    Raises:
        OSError: The file can't be opened, is too large, or is not a regular file.
    """
    try:
        descriptor = _opened(place)
    except OSError as error:
        if error.errno == errno.ELOOP:
            raise OSError(errno.ELOOP, "the file was replaced by a link, so it was not opened") from error
        raise
    status = os.fstat(descriptor)
    regular = stat.S_ISREG(status.st_mode)
    if not regular or status.st_size > FRAME_BYTES:
        os.close(descriptor)
        raise OSError(0, f"larger than {FRAME_BYTES:,} bytes" if regular else "not a regular file")
    return descriptor


def open_scene(path: Path) -> int:
    """Open a regular file that the user named, and return a descriptor for reading it. The size of the file is not
    limited.

    Raises:
        OSError: The file can't be opened, or is not a regular file.
    """
    descriptor = _opened(Path(os.path.realpath(path)))
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise OSError(0, "not a regular file")
    return descriptor


def open_folder_place(place: Path) -> int:
    """Open a folder in the same way as `read_place` opens a file, and return a descriptor.

    Raises:
        OSError: The folder can't be opened, or is not a folder.
    """
    try:
        return _opened(place, getattr(os, "O_DIRECTORY", 0))
    except OSError as error:
        if error.errno in (errno.ELOOP, errno.ENOTDIR):
            raise OSError(error.errno, "the folder was replaced by a link or a file, so it was not opened") from error
        raise


def refuse_others(folder: Path) -> None:
    """Check that a folder is safe to write to: it is not a link, it belongs to this user, and others can't write to it.

    According to the XDG Base Directory Specification 0.8, such folders have the mode 0700.

    Raises:
        NotADirectoryError: The path is a link, or not a folder.
        PermissionError: The folder belongs to another user, or others may write to it (POSIX only).
        OSError: The folder can't be examined.
    """
    status = folder.lstat()
    if not stat.S_ISDIR(status.st_mode):
        raise NotADirectoryError(errno.ENOTDIR, os.strerror(errno.ENOTDIR))
    if os.name == "posix" and (status.st_uid != os.geteuid() or status.st_mode & 0o022):
        raise PermissionError(errno.EPERM, os.strerror(errno.EPERM))


def _opened(place: Path, more: int = 0) -> int:
    """Open a path folder by folder from the root, and return a descriptor. If a part of the path is a link, opening
    fails.

    On systems without O_PATH (Linux has it), only the last part is checked.
    """
    flags = (
        os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0) | getattr(os, "O_NOFOLLOW", 0) | more
    )
    if not hasattr(os, "O_PATH") or not place.name:
        return os.open(place, flags)
    passing = os.O_PATH | os.O_DIRECTORY
    folder = os.open(place.anchor, passing)
    try:
        for part in place.parts[1:-1]:
            above, folder = folder, os.open(part, passing | os.O_NOFOLLOW, dir_fd=folder)
            os.close(above)
        return os.open(place.name, flags, dir_fd=folder)
    finally:
        os.close(folder)
