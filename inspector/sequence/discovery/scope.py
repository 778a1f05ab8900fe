"""The only folders that may be read: the user's folder, and the folders that the user adds."""

from __future__ import annotations

import os
import stat
import unicodedata
from collections import defaultdict, deque
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import cached_property
from itertools import islice
from pathlib import Path
from typing import BinaryIO

from inspector.names import Name
from inspector.safe_open import open_place, read_place

INDEX_LIMIT = 200_000
"""Maximum number of folder entries to list in a search for a file by its name alone. Listing this many entries takes
about a second."""


class Scope:
    """Finds and reads files in the folders that the user named. Nothing outside these folders is opened or examined.

    Attributes:
        roots: The folders, with all links resolved, in order of preference.
    """

    def __init__(self, root: Path, extra: Sequence[Path] = ()) -> None:
        """Resolve the folders.

        Args:
            root: The inspected folder.
            extra: Further folders that may be read, in order of preference.
        """
        self._as_named = root
        self.roots: tuple[Path, ...] = tuple(dict.fromkeys(Path(os.path.realpath(path)) for path in (root, *extra)))
        self._collisions: dict[Path, Mapping[str, Sequence[str]]] = {}

    def place(self, path: Path) -> Path:
        """Resolve all links of a path.

        Raises:
            OSError: The path leads outside the roots.
        """
        place = Path(os.path.realpath(path))
        if not self._inside(place):
            raise OSError(0, "it is outside the inspected folder and the --textures folders")
        return place

    def read(self, path: Path) -> bytes:
        """Read a regular file.

        Raises:
            OSError: The file can't be read, is too large, is not a regular file, or is outside the roots when it is
                opened.
        """
        return read_place(self.place(path))

    def open(self, path: Path) -> BinaryIO:
        """Open a regular file for reading.

        Raises:
            OSError: For the same reasons as in `read`.
        """
        return os.fdopen(open_place(self.place(path)), "rb")

    def relative(self, path: Path) -> Name:
        """Return a path, for people and JSON, relative to the root that contains it, with forward slashes.

        If no root contains the path, it is returned unchanged.
        """
        for root in (self._as_named, *self.roots):
            if path.is_relative_to(root):
                return Name(os.fsencode(path.relative_to(root).as_posix()))
        return Name.from_path(path)

    def contains(self, path: Path) -> bool:
        """Return whether a path, with all links resolved, is a root or inside a root."""
        try:
            return self._inside(Path(os.path.realpath(path)))
        except (OSError, ValueError):
            return False

    def names_outside(self, folder: Path, name: bytes) -> bool:
        """Return whether the text of a name leads out of the roots, by `..` or an absolute path.

        The path is not examined, so the result doesn't reveal whether it exists.
        """
        return not self._inside(_joined(folder, name))

    def leads_outside(self, folder: Path, name: bytes) -> bool:
        """Return whether a name leads out of the roots, by its text or through a link."""
        return self.names_outside(folder, name) or not self.contains(_joined(folder, name))

    def exact(self, folder: Path, name: bytes) -> Path | None:
        """Find the regular file to which a name in a folder refers. In the result, the links in the path of the file's
        folder are resolved.

        None if the roots contain no such file.
        """
        if not name or name.endswith(b"/") or b"\0" in name or self.leads_outside(folder, name):
            return None
        path = folder / os.fsdecode(name)
        return path.parent.resolve() / path.name if self._is_regular(path) else None

    def by_base_name(self, base: bytes) -> list[Path]:
        """Search the roots for files that have a given base name, or a name that `fold` makes equal to it.

        Files with exactly this name come first. Both groups are sorted by depth below a root, then by root, then by
        path. Links that lead out of the roots are left out, and so are files in hidden folders.
        """
        alike = self._index.get(fold(base), [])
        return sorted(alike, key=lambda path: os.fsencode(path.name) != base)

    def ending_in(self, endings: Collection[str]) -> list[Path]:
        """Return the files in the roots that have one of the given extensions (in lower case, with the dot), in no
        particular order."""
        return [path for paths in self._index.values() for path in paths if path.suffix.lower() in endings]

    def names_in(self, folder: Path) -> list[str]:
        """Return the sorted names of the files in a folder inside the roots. At most INDEX_LIMIT entries are
        examined.
        """
        with os.scandir(folder) as listing:
            return sorted(entry.name for entry in islice(listing, INDEX_LIMIT) if entry.is_file())

    def collisions(self, folder: Path) -> Mapping[str, Sequence[str]]:
        """For each name in a folder, return the other names in the folder that `fold` makes equal to it. Names without
        such other names are left out. The result is empty if the folder is outside the roots or can't be listed. Each
        folder is listed only once."""
        if folder not in self._collisions:
            alike: defaultdict[str, list[str]] = defaultdict(list)
            try:
                for name in self.names_in(folder) if self.contains(folder) else ():
                    alike[fold(os.fsencode(name))].append(name)
            except OSError:
                alike.clear()
            groups = [names for names in alike.values() if len(names) > 1]
            self._collisions[folder] = {
                name: [other for other in names if other != name] for names in groups for name in names
            }
        return self._collisions[folder]

    @cached_property
    def _index(self) -> dict[str, list[Path]]:
        index: defaultdict[str, list[Path]] = defaultdict(list)
        for path in dict.fromkeys(self._files()):
            index[fold(os.fsencode(path.name))].append(path)
        return index

    def _files(self) -> Iterator[Path]:
        """Yield the files in the roots, by increasing depth, until INDEX_LIMIT entries have been listed."""
        pending = deque(self.roots)
        seen = 0
        while pending:
            try:
                with os.scandir(pending.popleft()) as listing:
                    entries = sorted(listing, key=lambda entry: os.fsencode(entry.name))
            except OSError:
                continue  # it can't be listed, so no file is found in it
            for entry in entries:
                seen += 1
                if seen > INDEX_LIMIT:
                    return
                if entry.is_dir(follow_symlinks=False):
                    if not entry.name.startswith("."):
                        pending.append(Path(entry.path))
                elif entry.is_file(follow_symlinks=False) or self._is_regular(Path(entry.path)):
                    yield Path(entry.path)

    def _is_regular(self, path: Path) -> bool:
        """Return whether a path leads to a regular file in the roots. Links are resolved before anything is
        examined."""
        try:
            return self.contains(path) and stat.S_ISREG(path.stat().st_mode)
        except OSError:
            return False

    def _inside(self, path: Path) -> bool:
        return any(path.is_relative_to(root) for root in self.roots)


def _joined(folder: Path, name: bytes) -> Path:
    """Return the path folder/name, with the links of the folder resolved. In the name, only `.` and `..` are
    resolved."""
    return Path(os.path.normpath(folder.resolve() / os.fsdecode(name)))


def fold(name: bytes) -> str:
    """Return a form of a name for comparison that ignores letter case and the encoding of accents (composed or
    decomposed)."""
    return unicodedata.normalize("NFC", name.decode("utf-8", "surrogateescape").casefold())
