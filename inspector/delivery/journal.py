"""The record of a delivery that is being written: whose it is, what is written already, and that somebody is at it."""

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
"""What the first line of every journal begins with; a folder without it is not ours."""
_NAME = "journal"
_MOST_HEAD = 4096  # bytes of a first line: a file name has 255 at most, each escaped to six


@dataclass(frozen=True, slots=True)
class Written:
    """One file of the delivery, as the journal and the receipt have it.

    path: in the delivered folder. sources: path relative to the source folder (or absolute, where it lies outside), and
    SHA-256. sha256: of what was written. fixes: ids. touches: keywords that they may change. invented: how.
    """

    path: str
    sources: tuple[tuple[str, str], ...]
    sha256: str
    fixes: tuple[str, ...] = ()
    touches: tuple[str, ...] = ()
    invented: str | None = None


def sha256(data: bytes) -> str:
    """Hexadecimal SHA-256 (FIPS 180-4)."""
    return hashlib.sha256(data).hexdigest()


class Busy(Exception):
    """Somebody else is writing with this journal now."""


class Journal:
    """A file of lines: the head, which names the delivery and its plan, and one for each file that is written.

    begun: whether it was there already, of the same plan; done: what it then records, by path.
    """

    def __init__(self, folder: OpenFolder, out: str, plan: str) -> None:
        """Open and lock; make it anew where it is of another plan or torn in its head.

        folder: that it is in; out: name of the delivered folder; plan: digest. Raises Busy, OSError.
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
                self._append(b"\n")  # the last line is torn: the next one must not be lost with it
        except BaseException:
            self._file.close()
            raise

    def record(self, written: Written) -> None:
        """Raises OSError."""
        self._append(json.dumps(asdict(written)).encode("ascii") + b"\n")

    def close(self) -> None:
        """Let go of the lock."""
        self._file.close()

    def _append(self, line: bytes) -> None:
        while line:
            line = line[self._file.write(line) :]
        os.fsync(self._file.fileno())


def open_locked(folder: OpenFolder, flags: int = 0) -> io.FileIO:
    """A folder's journal for reading and writing, locked until it is closed or the process ends, however it ends.

    Where a file system has no locks it goes without: two runs of one plan then write the same bytes, and reading back
    decides. Raises Busy, OSError.
    """
    file = io.FileIO(folder.open(_NAME, os.O_RDWR | flags), "r+")
    if _locked(file) and _still_there(file, folder):
        return file
    file.close()
    raise Busy


def may_be_ours(folder: OpenFolder, out: str) -> bool:
    """Whether a folder's journal begins as one for a delivery of that name does, as far as it goes: it may be torn."""
    begin = _head(out)[:-1]
    return begin.startswith(_beginning(folder, len(begin)))


def delivery_of(folder: OpenFolder) -> str | None:
    """The name of the delivered folder that a folder's journal is for; None if it is no journal or torn in its head."""
    try:
        head = json.loads(_beginning(folder, _MOST_HEAD).partition(b"\n")[0])
        return str(head["out"]) if head["what"] == _WHAT else None
    except (ValueError, TypeError, KeyError, RecursionError):
        return None


def _head(out: str, **more: str) -> bytes:
    return json.dumps({"what": _WHAT, "out": out, **more}).encode("ascii")


def _beginning(folder: OpenFolder, size: int) -> bytes:
    """The first bytes of a regular file (no link); what no journal begins with where it is none."""
    with contextlib.suppress(OSError):
        return folder.read(_NAME, size)
    return b"\0"


def _entries(text: bytes) -> dict[str, Written]:
    done: dict[str, Written] = {}
    for line in text.splitlines()[1:]:
        with contextlib.suppress(ValueError, TypeError, KeyError):
            entry = json.loads(line)
            entry["sources"] = tuple((path, digest) for path, digest in entry["sources"])
            done[entry["path"]] = Written(
                **{**entry, "fixes": tuple(entry["fixes"]), "touches": tuple(entry["touches"])}
            )
    return done


def _still_there(file: io.FileIO, folder: OpenFolder) -> bool:
    """Whether the name still leads to the open file: who had the lock before may have finished and removed it."""
    status = folder.status(_NAME)
    return status is not None and os.path.samestat(os.fstat(file.fileno()), status)


if sys.platform == "win32":
    import msvcrt

    def _locked(file: io.FileIO) -> bool:
        file.seek(1 << 30)  # beyond all that is written: the lines may still be read
        try:
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        except OSError:
            return False
        file.seek(0)
        return True

else:
    import fcntl

    def _locked(file: io.FileIO) -> bool:
        """Take the lock (flock: reading the file elsewhere in this process does not let go of it)."""
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            return False
        except OSError:  # this file system has none
            return True
        return True
