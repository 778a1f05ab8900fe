"""From a folder to its sequences of numbered mesh files. Nothing is opened, links to folders are not followed."""

from __future__ import annotations

import os
import re
import stat
from collections import Counter, defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from itertools import pairwise
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.names import Name
from inspector.sequence.numbering import Grid, Numeral, are_subframes, grid_of, padding_of, split_number

MESH_SUFFIXES = (b".obj",)

MOST_MISSING = 100_000
"""Frames that a sequence can miss: more than an hour at 24 a second. Beyond it, numbers are dates or serial numbers."""

# A lone file is a sequence of one (the rest may be lost) only if its number looks like a frame's.
_LONE_FRAME = re.compile(rb"(?:.*[._-])?[0-9]{4,}", re.DOTALL)

_KINDS = {
    stat.S_IFDIR: "a folder, not a file; what it holds was not read",
    stat.S_IFIFO: "a pipe, not a file",
    stat.S_IFSOCK: "a socket, not a file",
    stat.S_IFCHR: "a device, not a file",
    stat.S_IFBLK: "a device, not a file",
}


@dataclass(frozen=True, slots=True)
class FrameFile:
    """One file of a sequence: exact frame number (3/2 for 0001.5), absolute path, bytes, nanoseconds."""

    number: Fraction
    path: Path
    size: int
    mtime_ns: int

    @property
    def name(self) -> Name:
        """The file's name without its folder."""
        return Name.from_path(self.path.name)


@dataclass(frozen=True)
class Sequence:
    """Numbered files of one stem in one folder, at least one.

    `relative` is the folder seen from the root (b"." for the root itself); `stem` the bytes before the number;
    `suffix` the most common spelling; `padding` as numbering.padding_of. `files` go by number; files that repeat
    a number are all kept, the one in the sequence's own padding and suffix first. Two sequences of a folder may have
    one stem, when more than MOST_MISSING frames lie between them.
    """

    folder: Path
    relative: Name
    stem: Name
    suffix: Name
    padding: int
    files: tuple[FrameFile, ...]

    @property
    def name(self) -> Name:
        """The stem without the separators at its end; the folder's name where nothing is left."""
        return (
            Name(self.stem.raw.rstrip(b"._- "))
            if self.stem.raw.strip(b"._- ")
            else Name.from_path(self.folder.name)
        )

    @property
    def pattern(self) -> Name:
        """The file names with one # for each padded digit: manta.####.obj; unpadded: manta.#.obj."""
        return Name(self.stem.raw + b"#" * self.padding + self.suffix.raw)

    @cached_property
    def grid(self) -> Grid:
        """The regular grid that the numbers stand on."""
        return grid_of([file.number for file in self.files])

    @property
    def step(self) -> Fraction:
        """Frames from one number to the next: 1, 2, 5, 1/2; 1 for a single file."""
        return self.grid.step

    @cached_property
    def missing(self) -> tuple[Fraction, ...]:
        """Numbers of the grid between the first and the last file that have no file."""
        present = {file.number for file in self.files}
        inside = self.grid.numbers(self.files[0].number, self.files[-1].number)
        return tuple(number for number in inside if number not in present)


@dataclass(frozen=True)
class Discovery:
    """What a folder holds. `stills`: mesh files without a number, alone, or with numbers too far apart for frames.

    `unusual`: what is named like a frame but is no regular file inside the folder, and folders that were not
    read, each with the reason.
    """

    root: Path
    sequences: tuple[Sequence, ...]
    stills: tuple[Path, ...]
    unusual: tuple[tuple[Path, str], ...]


@dataclass(frozen=True, slots=True)
class _Numbered:
    numeral: Numeral
    suffix: bytes
    path: bytes
    status: os.stat_result


_Groups = defaultdict[tuple[bytes, bytes], list[_Numbered]]


@dataclass(slots=True)
class _Search:
    root: bytes
    sequences: list[Sequence] = field(default_factory=list)
    stills: list[Path] = field(default_factory=list)
    unusual: list[tuple[Path, str]] = field(default_factory=list)


def discover(root: Path) -> Discovery:
    """The sequences in a folder and its subfolders, in the order of their paths; hidden folders are skipped.

    Raises MeshqcError if root is no folder or cannot be read.
    """
    try:
        resolved = os.fsencode(root.resolve(strict=True))
        os.scandir(resolved).close()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a path"
        raise MeshqcError(f"{Name.from_path(root)}: not a folder that can be read ({reason})") from error
    search = _Search(resolved)
    for folder, entries in _walk(search):
        _group_folder(search, folder, entries)
    return Discovery(_path(resolved), tuple(search.sequences), tuple(search.stills), tuple(search.unusual))


def _walk(search: _Search) -> Iterator[tuple[bytes, list[os.DirEntry[bytes]]]]:
    pending = [search.root]
    while pending:
        folder = pending.pop()
        try:
            with os.scandir(folder) as listing:
                entries = sorted(listing, key=lambda entry: entry.name)
        except OSError as error:
            search.unusual.append((_path(folder), f"a folder that cannot be read ({error.strerror})"))
            continue
        yield folder, entries
        pending.extend(
            entry.path
            for entry in reversed(entries)
            if entry.is_dir(follow_symlinks=False)
            and not entry.name.startswith(b".")
            and not _suffix(entry.name)
        )


def _group_folder(search: _Search, folder: bytes, entries: list[os.DirEntry[bytes]]) -> None:
    groups: _Groups = defaultdict(list)
    for entry in entries:
        suffix = _suffix(entry.name)
        if not suffix or entry.name.startswith(
            b"._"
        ):  # ._x.obj: macOS keeps file attributes in such side files
            if entry.is_symlink() and entry.is_dir() and not entry.name.startswith(b"."):
                search.unusual.append((_path(entry.path), "a link to a folder; such links are not followed"))
            continue
        status = _look(entry, search.root)
        if isinstance(status, str):
            search.unusual.append((_path(entry.path), status))
            continue
        stem, digits = split_number(entry.name[: -len(suffix)])
        if digits:
            groups[stem, suffix.lower()].append(_Numbered(Numeral(digits), suffix, entry.path, status))
        else:
            search.stills.append(_path(entry.path))
    _join_subframes(groups)
    for (stem, _), members in sorted(groups.items()):
        _add_group(search, folder, stem, members)


def _suffix(name: bytes) -> bytes:
    ending = name[name.rfind(b".") :] if b"." in name else b""
    return ending if ending.lower() in MESH_SUFFIXES else b""


def _look(entry: os.DirEntry[bytes], root: bytes) -> os.stat_result | str:
    """The file's status, or why it is none that may be read."""
    try:
        if not entry.is_symlink():
            status = entry.stat(follow_symlinks=False)
        else:
            target = os.path.realpath(entry.path, strict=True)
            if not target.startswith(root.rstrip(b"/") + b"/"):
                return "a link that leads outside the folder"
            status = _path(target).lstat()
    except OSError as error:
        return f"a link that leads nowhere ({error.strerror})" if entry.is_symlink() else str(error.strerror)
    return (
        status
        if stat.S_ISREG(status.st_mode)
        else _KINDS.get(stat.S_IFMT(status.st_mode), "not a regular file")
    )


def _join_subframes(groups: _Groups) -> None:
    """Moves groups such as `manta.0001.` (5, 25 ...) into `manta.` where they hold its sub-frames."""
    families: defaultdict[tuple[bytes, bytes], dict[bytes, tuple[bytes, bytes]]] = defaultdict(dict)
    for stem, suffix in groups:
        parent, whole = split_number(stem[:-1])
        if stem.endswith(b".") and whole and (parent, suffix) in groups:
            families[parent, suffix][whole] = (stem, suffix)
    for parent_key in sorted(families, reverse=True):  # longest stems first, so that each group moves once
        children = {
            whole: key
            for whole, key in families[parent_key].items()
            if not any(member.numeral.part for member in groups[key])
        }
        wholes = {member.numeral.whole for member in groups[parent_key]}
        parts = {whole: [member.numeral.whole for member in groups[key]] for whole, key in children.items()}
        if parts and are_subframes(wholes, parts):
            for whole, key in children.items():
                groups[parent_key] += [
                    _Numbered(Numeral(whole, child.numeral.whole), child.suffix, child.path, child.status)
                    for child in groups.pop(key)
                ]


def _add_group(search: _Search, folder: bytes, stem: bytes, members: list[_Numbered]) -> None:
    padding = padding_of(member.numeral.whole for member in members)
    suffix = min(Counter(member.suffix for member in members).items(), key=lambda item: (-item[1], item[0]))[
        0
    ]

    def order(member: _Numbered) -> tuple[int, bytes, bool, bool, bytes]:
        whole, part = member.numeral.order
        own_padding = member.numeral.whole == b"%0*d" % (padding, whole)
        return whole, part, not own_padding, member.suffix != suffix, member.path

    members.sort(key=order)
    for run in _runs(members):
        files = tuple(
            FrameFile(
                member.numeral.value, _path(member.path), member.status.st_size, member.status.st_mtime_ns
            )
            for member in run
        )
        relative = Name(os.path.relpath(folder, search.root))
        sequence = Sequence(_path(folder), relative, Name(stem), Name(suffix), padding, files)
        lone = len(files) == 1 and not (
            len(members) == 1 and _LONE_FRAME.fullmatch(stem + run[0].numeral.whole)
        )
        if lone or _holes(sequence) > MOST_MISSING:
            search.stills += [file.path for file in files]
        else:
            search.sequences.append(sequence)


def _runs(members: list[_Numbered]) -> list[list[_Numbered]]:
    """Sorted members, cut where more than MOST_MISSING frames lie between two of them."""
    wholes = [member.numeral.order[0] for member in members]
    cuts = [at for at, (before, after) in enumerate(pairwise(wholes), 1) if after - before > MOST_MISSING]
    return [members[start:stop] for start, stop in pairwise([0, *cuts, len(members)])]


def _holes(sequence: Sequence) -> Fraction:
    """About how many numbers are missing, without listing them."""
    return (sequence.files[-1].number - sequence.files[0].number) / sequence.step - len(sequence.files)


def _path(raw: bytes) -> Path:
    return Path(os.fsdecode(raw))
