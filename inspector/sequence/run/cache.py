"""Keep facts from one run to the next, so that unchanged frames are not read again.

The facts are in one SQLite file in the user's cache folder, which several processes may use at the same time. A full
disk, a read-only home folder or a damaged cache file only turns the cache off. If the cache file is too damaged to be
opened, it is replaced.

A row is valid only while the paths, sizes, modification times, change times and inodes of the frame's file, of the
previous frame's file and of the buffers of both are unchanged, and only if the digest in the row matches its content.
Some writes, such as writes through a memory map, change a file's times only later. Therefore, facts are kept only if
all these files were last written more than a minute ago.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import sqlite3
import time
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path

from inspector.safe_open import FileState, refuse_others
from inspector.sequence.discovery.discover import FrameFile
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.measure.facts_json import MEASUREMENT, facts_from_json, facts_to_json

_FILE = "facts.sqlite"
_TABLE = "CREATE TABLE IF NOT EXISTS facts (key BLOB PRIMARY KEY, measured INTEGER, document TEXT) WITHOUT ROWID"
"""The column `measured` is the time at which the facts were measured or last used (`_USE_NOTED`), in seconds since
1970."""

_WRITTEN_BACK = 60.0
"""The times of a file identify its content only if more than this number of seconds has passed since the last write to
the file. Linux writes changed pages of a memory map back within 35 s (vm.dirty_expire_centisecs,
vm.dirty_writeback_centisecs)."""

_CLOCK_GRAIN = 0.1
"""If more than this number of seconds has passed since a file's last change, any further change gets a different change
time. The value is ten ticks of the coarsest kernel clock in use (100 Hz)."""

_PASSING = ("unopenable", "stalled", "reader-died", "still-written", "not-measured")
"""Problems that may be gone in the next run."""

_KEPT = 30 * 86_400
"""Facts that have not been used for this number of seconds are deleted."""
_USE_NOTED = 86_400
"""Minimum number of seconds before the use of a row is recorded again."""


class FactsCache:
    """Finds facts and keeps new facts. If `folder` is None or can't be used, no facts are found or kept."""

    def __init__(self, folder: Path | None) -> None:
        self._connection: sqlite3.Connection | None = None
        self._pending: list[tuple[bytes, int, str]] = []
        self._used: list[bytes] = []
        self._written = time.monotonic()
        if folder is None:
            return
        with contextlib.suppress(OSError, sqlite3.Error):
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
            refuse_others(folder)
            if (folder / _FILE).is_symlink():
                return
            try:
                self._connection = _open(folder / _FILE)
            except sqlite3.OperationalError:  # locked, full or not writable: this run has no cache
                raise
            except sqlite3.DatabaseError:  # damaged: nothing in the file is worth keeping
                (folder / _FILE).unlink()
                self._connection = _open(folder / _FILE)

    def find(self, files: Sequence[FrameFile]) -> list[FrameFacts | None]:
        """Return the facts of each file of a sequence; None for a file whose facts are not known."""
        keys = list(_keys(files))
        rows = self._rows(keys)
        return [_facts(key, rows.get(key), file) for key, file in zip(keys, files, strict=True)]

    def keep(self, measured: Iterable[tuple[FrameFacts, FrameFile | None]]) -> None:
        """Keep the facts of frames, unless a file that they depend on was written less than a minute ago.

        Failures that may be gone in the next run are not kept either.
        """
        if self._connection is None:
            return
        now = time.time()
        for facts, before in measured:
            states = [one.state for one in (facts.file, before, *facts.beside) if one is not None]
            if all(_settled(state, now) for state in states if state) and _depends_on_content(facts):
                key, document = _key(facts.file, before), json.dumps(facts_to_json(facts))
                self._pending.append((key, int(now), _digest(key, document) + document))
        # A transaction waits for the disk, so each transaction has many rows. There is one every few seconds, so that
        # little is lost if the process is killed.
        if len(self._pending) >= 512 or time.monotonic() - self._written > 2.0:
            self._write()

    def close(self) -> None:
        """Write pending rows, record which rows were used, delete old rows, and close the file.

        After this, no facts are found or kept.
        """
        self._write()
        now = int(time.time())
        with contextlib.suppress(sqlite3.Error):
            if self._connection is not None:
                with self._connection:
                    used = [(now, key) for key in self._used]
                    self._connection.executemany("UPDATE facts SET measured = ? WHERE key = ?", used)
                    self._connection.execute("DELETE FROM facts WHERE measured < ?", (now - _KEPT,))
        self._switch_off()

    def _write(self) -> None:
        rows, self._pending = self._pending, []
        self._written = time.monotonic()
        if self._connection is None or not rows:
            return
        try:
            with self._connection:
                self._connection.executemany("INSERT OR REPLACE INTO facts VALUES (?, ?, ?)", rows)
        except sqlite3.Error:  # full, locked for a long time or damaged: continue without a cache
            self._switch_off()

    def _switch_off(self) -> None:
        connection, self._connection = self._connection, None
        if connection is not None:
            with contextlib.suppress(sqlite3.Error):
                connection.close()

    def _rows(self, keys: Sequence[bytes]) -> dict[bytes, str]:
        rows: dict[bytes, str] = {}
        if self._connection is None:
            return rows
        noted = int(time.time()) - _USE_NOTED
        try:
            for start in range(0, len(keys), 500):  # older versions of SQLite allow 999 variables per statement
                some = keys[start : start + 500]
                marks = ",".join("?" * len(some))
                query = f"SELECT key, document, measured < ? FROM facts WHERE key IN ({marks})"
                for key, document, unnoted in self._connection.execute(query, [noted, *some]):
                    rows[key] = document
                    if unnoted:
                        self._used.append(key)
        except sqlite3.Error:
            self._switch_off()
        return rows


def _open(path: Path) -> sqlite3.Connection:
    # A rollback journal, not a write-ahead log, because home folders may be on shared storage.
    connection = sqlite3.connect(path, timeout=1.0, check_same_thread=False)
    try:
        connection.execute(_TABLE)
    except sqlite3.Error:
        connection.close()
        raise
    return connection


def _depends_on_content(facts: FrameFacts) -> bool:
    """Whether the facts depend only on the content of the files; False for a failure that may be gone in the next
    run."""
    return facts.readable or not any(map(facts.problem, _PASSING))


def _settled(state: FileState, now: float) -> bool:
    _, modified, changed, _ = state
    return now - modified / 1e9 > _WRITTEN_BACK and now - changed / 1e9 > _CLOCK_GRAIN


def _facts(key: bytes, row: object, file: FrameFile) -> FrameFacts | None:
    if not isinstance(row, str):
        return None
    digest, document = row[:_DIGEST_LENGTH], row[_DIGEST_LENGTH:]
    if digest != _digest(key, document):
        return None
    try:
        facts = facts_from_json(json.loads(document), file)
        return facts if facts.still_holds() else None
    except (ValueError, TypeError, KeyError):
        return None


_DIGEST_LENGTH = 32  # hexadecimal digits


def _digest(key: bytes, document: str) -> str:
    """Compute the digest at the start of a row. A row with a wrong digest is not used."""
    return hashlib.blake2b(key + b"\0" + document.encode(), digest_size=_DIGEST_LENGTH // 2).hexdigest()


def _keys(files: Sequence[FrameFile]) -> Iterator[bytes]:
    before: FrameFile | None = None
    for file in files:
        yield _key(file, before)
        before = file


def _key(file: FrameFile, before: FrameFile | None) -> bytes:
    """Compute the key of a row from the version of the measurements, the path and state of the frame's file, and the
    path and state of the previous file, if there is one."""
    parts = [str(MEASUREMENT).encode()]
    for one in (file, before):
        parts += [b"", b""] if one is None else [os.fsencode(one.path), b"%d %d %d %d" % one.state]
    return b"\0".join(parts)
