"""The journal of an unfinished delivery: the name of the delivery, the files written so far, and a lock."""

from __future__ import annotations

import contextlib
import hashlib
import io
import json
import os
import sys
from dataclasses import asdict, dataclass

from inspector.delivery.open_folder import OpenFolder

_WHAT = "meshqc: an unfinished delivery"
"""The first value in the first line of every journal that meshqc writes."""
_NAME = "journal"
_MOST_HEAD = 4096  # maximum size of the first line, bytes: at most 255 bytes of a file name, up to 6 each if escaped


@dataclass(frozen=True, slots=True)
class WrittenFile:
    """One file of the delivery, as recorded in the journal and the receipt.

    Attributes:
        path: Path in the delivered folder.
        sources: Path and SHA-256 of each source file. Paths are relative to the source folder, or absolute if the file
            is outside that folder.
        sha256: SHA-256 of the content.
        fixes: Ids of the fixes that were applied.
        touches: Keywords of the blocks that the fixes may change.
        invented: How the frame was made; None unless a fix invented the frame.
    """

    path: str
    sources: tuple[tuple[str, str], ...]
    sha256: str
    fixes: tuple[str, ...] = ()
    touches: tuple[str, ...] = ()
    invented: str | None = None


def sha256(data: bytes) -> str:
    """Return the hexadecimal SHA-256 of the data (FIPS 180-4)."""
    return hashlib.sha256(data).hexdigest()


class Busy(Exception):
    """Another process is using the journal."""


class Journal:
    """A text file that names the delivery and its plan in the first line, and a written file in each further line.

    Attributes:
        begun: Whether a journal for the same plan already existed.
        done: The files that this earlier journal records, by path.
    """

    def __init__(self, folder: OpenFolder, out: str, plan: str) -> None:
        """Open and lock the journal. Its content is discarded if the first line names another plan or is damaged.

        Args:
            folder: The folder that contains the journal.
            out: Name of the delivered folder.
            plan: Digest of the plan.

        Raises:
            Busy: Another process is using the journal.
            OSError: The journal can't be opened.
        """
        self._file = open_locked(folder, os.O_CREAT)
        try:
            head = _head(out, plan=plan) + b"\n"
            text = self._file.read()
            self.begun = text.startswith(head)
            self.done = _entries(text) if self.begun else {}
            if not self.begun:
                self._file.truncate(0)
                self._file.seek(0)
                self._append(head)
            elif not text.endswith(b"\n"):
                self._append(b"\n")  # ends an incomplete last line, so that the next line is on a line of its own
        except BaseException:
            self._file.close()
            raise

    def record(self, written: WrittenFile) -> None:
        """Record a file that was written.

        Raises:
            OSError: The journal can't be written.
        """
        self._append(json.dumps(asdict(written)).encode("ascii") + b"\n")

    def close(self) -> None:
        """Close the journal and release its lock."""
        self._file.close()

    def _append(self, line: bytes) -> None:
        while line:
            line = line[self._file.write(line) :]
        os.fsync(self._file.fileno())


def open_locked(folder: OpenFolder, flags: int = 0) -> io.FileIO:
    """Open a folder's journal for reading and writing, and lock it.

    If the file system doesn't support locks, the journal is opened without a lock. The risk is small, because two runs
    of one plan write the same bytes and the verification detects damage.

    Args:
        folder: The folder.
        flags: Further flags for opening, as for `os.open`.

    Raises:
        Busy: Another process is using the journal.
        OSError: The journal can't be opened.
    """
    file = io.FileIO(folder.open(_NAME, os.O_RDWR | flags), "r+")
    if _locked(file) and _still_there(file, folder):
        return file
    file.close()
    raise Busy


def may_be_ours(folder: OpenFolder, out: str) -> bool:
    """Whether a folder's journal may belong to a delivery named `out`. If the journal's first line is incomplete, only
    the existing part of the line has to match.

    Args:
        folder: The folder.
        out: Name of the delivered folder.
    """
    begin = _head(out)[:-1]
    return begin.startswith(_beginning(folder, len(begin)))


def delivery_of(folder: OpenFolder) -> str | None:
    """Return the delivery's name from a folder's journal; None if the journal doesn't exist or its first line is
    damaged."""
    try:
        head = json.loads(_beginning(folder, _MOST_HEAD).partition(b"\n")[0])
        return str(head["out"]) if head["what"] == _WHAT else None
    except (ValueError, TypeError, KeyError, RecursionError):
        return None


def _head(out: str, **more: str) -> bytes:
    return json.dumps({"what": _WHAT, "out": out, **more}).encode("ascii")


def _beginning(folder: OpenFolder, size: int) -> bytes:
    """Return the first bytes of the journal; if it can't be read, return a byte with which no journal begins."""
    with contextlib.suppress(OSError):
        return folder.read(_NAME, size)
    return b"\0"


def _entries(text: bytes) -> dict[str, WrittenFile]:
    done: dict[str, WrittenFile] = {}
    for line in text.splitlines()[1:]:
        with contextlib.suppress(ValueError, TypeError, KeyError):
            entry = json.loads(line)
            entry["sources"] = tuple((path, digest) for path, digest in entry["sources"])
            done[entry["path"]] = WrittenFile(
                **{**entry, "fixes": tuple(entry["fixes"]), "touches": tuple(entry["touches"])}
            )
    return done


def _still_there(file: io.FileIO, folder: OpenFolder) -> bool:
    """Whether the journal's name still refers to the open file. The previous owner of the lock may have removed the
    file."""
    status = folder.status(_NAME)
    return status is not None and os.path.samestat(os.fstat(file.fileno()), status)


if sys.platform == "win32":
    import msvcrt

    def _locked(file: io.FileIO) -> bool:
        file.seek(1 << 30)  # after the end of the file, so that others can still read its lines
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        file.seek(0)
        return True

else:
    import fcntl

    def _locked(file: io.FileIO) -> bool:
        """Lock the file with flock; return False if another process has locked it."""
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:  # the file system doesn't support locks
            return True
        return True
