"""The hidden folder in which a delivery is built: each file whole on the disk before it gets its name."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import asdict, dataclass
from pathlib import Path

from inspector.delivery.place import parts_of
from inspector.delivery.sources import sha256
from inspector.errors import MeshqcError, Refusal
from inspector.names import Name
from inspector.sequence.scan import read_file

_JOURNAL = ".journal"
_DRAFT = ".draft"


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


class Staging:
    """The folder `.NAME.DIGEST.unfinished` beside the delivery. What a journal in it records as written is kept."""

    def __init__(self, out: Path, digest: str) -> None:
        """out: the final place; digest: of the plan and its sources, so that only the same work is resumed."""
        self.out = out
        self.folder = out.parent / f".{out.name[:40]}.{digest[:16]}.unfinished"
        self._folders: set[Path] = set()
        self._done: dict[str, Written] = {}

    def __enter__(self) -> Staging:
        """Raises Refusal if something else stands there, OSError if it can't be made."""
        if self.folder.is_symlink() or (self.folder.exists() and not self.folder.is_dir()):
            raise Refusal(f"{Name.from_path(self.folder)}: is in the way")
        self.folder.mkdir(exist_ok=True)
        self._done = self._read_journal()
        self._journal = (self.folder / _JOURNAL).open("a", encoding="ascii")
        return self

    def __exit__(self, *_: object) -> None:
        self._journal.close()

    def done(self, path: str) -> Written | None:
        """What an earlier run wrote under this path, if it is still exactly that."""
        written = self._done.get(path)
        try:
            return written if written and sha256(self.read(path)) == written.sha256 else None
        except OSError:
            return None

    def write(self, data: bytes, written: Written) -> None:
        """Put a file in its place, whole, and record it. Raises OSError; nothing half written has its name then."""
        self._put(written.path, data)
        self._journal.write(json.dumps(asdict(written)) + "\n")
        self._journal.flush()
        os.fsync(self._journal.fileno())

    def put(self, path: str, data: bytes) -> None:
        """A file that is made anew by every run. Raises OSError."""
        self._put(path, data)

    def read(self, path: str) -> bytes:
        """A file as it is on the disk now. Raises OSError."""
        return read_file(self.folder.joinpath(*parts_of(path)))

    def files(self) -> list[str]:
        """Every file in it but its own, in order."""
        own = {_JOURNAL, _DRAFT}
        found = (path.relative_to(self.folder).as_posix() for path in self.folder.rglob("*") if not path.is_dir())
        return sorted(path for path in found if path not in own)

    def keep_only(self, paths: set[str]) -> None:
        """Remove what an earlier run left that does not belong. Raises OSError."""
        for path in self.files():
            if path not in paths:
                self.folder.joinpath(path).unlink()

    def finish(self) -> None:
        """Give the folder its final name. Raises Refusal if something stands there by now, OSError."""
        self._journal.close()
        for folder in {self.folder, *self._folders}:
            _sync_folder(folder)
        if os.path.lexists(self.out):
            raise Refusal(f"{Name.from_path(self.out)}: appeared meanwhile and is not touched; choose another name")
        (self.folder / _JOURNAL).unlink()
        self.folder.rename(self.out)
        _sync_folder(self.out.parent)

    def _put(self, path: str, data: bytes) -> None:
        target = self.folder.joinpath(*parts_of(path))
        target.parent.mkdir(parents=True, exist_ok=True)
        self._folders.update(parent for parent in target.parents if parent.is_relative_to(self.folder))
        draft = self.folder / _DRAFT
        with draft.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        draft.replace(target)

    def _read_journal(self) -> dict[str, Written]:
        """Entries of an earlier run; the last line may be torn."""
        journal = self.folder / _JOURNAL
        if journal.is_symlink() or not journal.exists():
            return {}
        done: dict[str, Written] = {}
        for line in read_file(journal).splitlines():
            try:
                entry = json.loads(line)
                entry["sources"] = tuple((path, digest) for path, digest in entry["sources"])
                done[entry["path"]] = Written(
                    **{**entry, "fixes": tuple(entry["fixes"]), "touches": tuple(entry["touches"])}
                )
            except (ValueError, TypeError, KeyError):
                continue
        return done


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
    free = shutil.disk_usage(staging.out.parent).free
    return MeshqcError(
        f"writing failed: {error.strerror} ({free / 1e6:,.0f} MB free). Nothing stands under the name "
        f"{Name.from_path(staging.out)}; what is written is kept in {Name.from_path(staging.folder.name)} beside it "
        f"and resumed by the same command"
    )
