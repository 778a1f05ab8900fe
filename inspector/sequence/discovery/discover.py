"""Find the sequences of numbered mesh files in a folder."""

from __future__ import annotations

import errno
import os
import posixpath
import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache, cached_property
from itertools import pairwise
from pathlib import Path

from inspector.errors import MeshqcError
from inspector.formats.problems import KINDS
from inspector.formats.registry import animations_by_ending
from inspector.formats.wavefront.logical_text import HEAD_BYTES, is_object_file
from inspector.names import Name
from inspector.safe_open import FileState, open_place
from inspector.sequence.discovery.listing import Listing, MeshFile, list_folders, path_of
from inspector.sequence.discovery.numbering import NumberGrid, Numeral, are_subframes, grid_of, padding_of, split_number
from inspector.sequence.discovery.receipt_file import StatedFrames, stated_frames

MOST_MISSING = 100_000
"""Maximum number of frames that may be missing from a sequence: more than an hour at 24 fps."""

# A single file counts as a sequence only if its number looks like a frame number. Its other frames may be lost.
_LONE_FRAME = re.compile(rb"(?:.*[._-])?[0-9]{4,}", re.DOTALL)


@dataclass(frozen=True, slots=True)
class FrameFile:
    """One file of a sequence.

    Attributes:
        number: Exact frame number, such as 3/2 for 0001.5.
        path: Absolute path.
        size: Size in bytes.
        mtime_ns: Modification time, in nanoseconds.
        target: If the path is a link, the path of the file itself, with all links resolved; otherwise None.
        ctime_ns: Time of the last change to the file's inode (ctime), in nanoseconds.
        inode: Inode number of the file.
    """

    number: Fraction
    path: Path
    size: int
    mtime_ns: int
    target: Path | None = None
    ctime_ns: int = 0
    inode: int = 0

    @property
    def state(self) -> FileState:
        """The identity of the file's content when the folder was listed (safe_open.file_state)."""
        return self.size, self.mtime_ns, self.ctime_ns, self.inode

    @property
    def place(self) -> Path:
        """The path, with all links resolved as they were when the folder was listed. Only this path may be opened."""
        return self.target or self.path

    @property
    def name(self) -> Name:
        """The file's name without its folder."""
        return Name.from_path(self.path.name)


@dataclass(frozen=True)
class Sequence:
    """One or more numbered files in one folder, with the same stem and the same extension (in any letter case).

    If the numbers of two neighbouring files differ by more than MOST_MISSING, a new sequence begins.

    Attributes:
        folder: The folder.
        relative: The folder relative to the root; b"." for the root itself.
        stem: The text before the number in the file names.
        suffix: The extension with its dot, in its most common spelling.
        padding: Number of digits to which the numbers are padded (numbering.padding_of).
        files: The files, sorted by number. If several files have the same number, the file with the sequence's own
            padding and extension comes first.
        stated: The numbers of all frames, if the receipt of a delivery states them; otherwise None.
    """

    folder: Path
    relative: Name
    stem: Name
    suffix: Name
    padding: int
    files: tuple[FrameFile, ...]
    stated: frozenset[Fraction] | None = None

    @property
    def name(self) -> Name:
        """The stem without the separators at its end; the name of the folder if nothing remains."""
        shown = self.stem.raw.rstrip(b"._- ")
        return Name(shown) if shown else Name.from_path(self.folder.name)

    @property
    def pattern(self) -> Name:
        """The pattern of the file names: `manta.####.obj` for numbers of four digits, `manta.#.obj` without padding."""
        return Name(self.stem.raw + b"#" * self.padding + self.suffix.raw)

    @property
    def key(self) -> str:
        """The key that identifies the sequence in the root: its folder and pattern as one path.

        Undecodable bytes are written as surrogate escapes.
        """
        return posixpath.normpath(posixpath.join(self.relative.text.replace("\\", "/"), self.pattern.text))

    @cached_property
    def grid(self) -> NumberGrid:
        """The regular grid of the frame numbers stated in the receipt or, without a receipt, of the files' numbers."""
        return grid_of([file.number for file in self.files] if self.stated is None else sorted(self.stated))

    @property
    def step(self) -> Fraction:
        """Mean distance between neighbouring frame numbers, possibly a fraction; 1 for a single file."""
        return self.grid.step

    @cached_property
    def missing(self) -> tuple[Fraction, ...]:
        """The expected frame numbers, between those of the first and the last file, for which there is no file. The
        expected numbers are those stated in the receipt or, without a receipt, those of the grid."""
        return self._without_file(self._inside if self.stated is None else sorted(self.stated))

    @cached_property
    def gaps(self) -> tuple[Fraction, ...]:
        """The numbers in the grid, between those of the first and the last file, for which there is no file.

        They need not be missing frames: a delivery may have sub-frames in only part of its range.
        """
        return self._without_file(self._inside)

    @property
    def _inside(self) -> tuple[Fraction, ...]:
        return self.grid.numbers(self.files[0].number, self.files[-1].number)

    def _without_file(self, numbers: Iterable[Fraction]) -> tuple[Fraction, ...]:
        present, first, last = {file.number for file in self.files}, self.files[0].number, self.files[-1].number
        return tuple(number for number in numbers if first <= number <= last and number not in present)


@dataclass(frozen=True)
class Discovery:
    """The content of a folder.

    Attributes:
        root: The folder, with all links resolved.
        sequences: The sequences in the folder and its subfolders, in the order of their paths.
        stills: Mesh files without a number, single files whose number doesn't look like a frame number, and files whose
            numbers are too far apart.
        unusual: Entries that are named like a mesh file but are not regular files inside the folder, and folders that
            were not read, each with the reason.
        animations: Scene files, each of which contains a whole animation.
    """

    root: Path
    sequences: tuple[Sequence, ...]
    stills: tuple[Path, ...]
    unusual: tuple[tuple[Path, str], ...]
    animations: tuple[Path, ...] = ()

    @property
    def left_out(self) -> tuple[tuple[Path, str], ...]:
        """Stills and unusual paths, each with the reason why it was left out."""
        return (*((path, _why_still(path)) for path in self.stills), *self.unusual)


def _why_still(path: Path) -> str:
    """State why a file is not a frame although it has the extension of a mesh file. Links are not followed."""
    try:
        with os.fdopen(open_place(path), "rb", buffering=0) as file:
            head = file.read(HEAD_BYTES)
    except OSError:
        head = b""
    return KINDS["object-file"] if is_object_file(head) else "a mesh file without a frame number"


@dataclass(frozen=True, slots=True)
class _Numbered:
    numeral: Numeral
    file: MeshFile


_Key = tuple[bytes, bytes]  # stem, and suffix in lower case
_Groups = defaultdict[_Key, list[_Numbered]]


@dataclass(slots=True)
class _Discovered:
    root: bytes
    stated: Callable[[], StatedFrames]
    sequences: list[Sequence] = field(default_factory=list)
    stills: list[Path] = field(default_factory=list)
    unusual: list[tuple[Path, str]] = field(default_factory=list)
    animations: list[Path] = field(default_factory=list)


_ADVICE = {
    errno.ENOENT: "check the spelling of the path",
    errno.ENOTDIR: "give the folder that contains the frames",
    errno.EACCES: "ask its owner for permission to read it",
}
"""Advice for a root that can't be read, by the system's error number."""


def discover(root: Path) -> Discovery:
    """Find the sequences in a folder and its subfolders, in the order of their paths. Hidden folders are skipped.

    A single numbered file may be all that is left of a sequence. It counts as a sequence if its number has at least
    four digits and is separated from a name (`jelly.0001.obj`) or is the whole name (`0001.obj`).

    Raises:
        MeshqcError: The root is not a folder, or can't be read.
    """
    try:
        resolved = os.path.realpath(os.fsencode(root), strict=True)
        os.scandir(resolved).close()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a path"
        whole = os.fsencode(root.suffix).lower() in animations_by_ending()
        advice = "use `meshqc unpack` to extract its frames" if whole else _ADVICE.get(getattr(error, "errno", 0))
        hint = f"; {advice}" if advice else ""
        raise MeshqcError(f"{Name.from_path(root)}: not a readable folder ({reason}){hint}") from error
    return sorted_out(resolved, list_folders(resolved), lambda: stated_frames(path_of(resolved)))


def sorted_out(root: bytes, listings: Iterable[Listing], stated: Callable[[], StatedFrames]) -> Discovery:
    """Find the sequences among listed files.

    Args:
        root: The inspected folder, an absolute path.
        listings: The listings of the folder and of the folders below it.
        stated: Returns the frame numbers that a receipt states; called only if the file names don't show whether the
            files are sub-frames.
    """
    found = _Discovered(root, cache(stated))
    for listing in listings:
        _sort_out(found, listing)
    rest = (tuple(found.stills), tuple(found.unusual), tuple(found.animations))
    return Discovery(path_of(root), tuple(found.sequences), *rest)


def _sort_out(found: _Discovered, listing: Listing) -> None:
    found.unusual += listing.unusual
    found.animations += listing.animations
    groups: _Groups = defaultdict(list)
    for file in listing.meshes:
        stem, digits = split_number(file.base)
        if digits:
            groups[stem, file.suffix.lower()].append(_Numbered(Numeral(digits), file))
        else:
            found.stills.append(path_of(file.path))
    relative = Name(os.path.relpath(listing.folder, found.root))
    _join_subframes(groups, lambda stem: found.stated().get((relative.text, Name(stem).text), frozenset()))
    for (stem, _), members in sorted(groups.items()):
        _add_group(found, listing.folder, relative, stem, members)


def _join_subframes(groups: _Groups, stated: Callable[[bytes], frozenset[Fraction]]) -> None:
    """Move the files of groups such as `manta.0001.` to the group `manta.` if they are sub-frames of that group.

    If the file names alone don't identify the files as sub-frames, the frame numbers in a receipt decide. For example,
    this is the case if all fractions are small, such as .00 to .10.
    """
    families: defaultdict[_Key, dict[bytes, _Key]] = defaultdict(dict)
    for stem, suffix in groups:
        parent, whole = split_number(stem[:-1])
        if stem.endswith(b".") and whole:
            families[parent, suffix][whole] = (stem, suffix)
    for parent_key in sorted(families, reverse=True):  # the longest stems first, so that no sub-frame is moved twice
        wholes = {member.numeral.whole for member in groups.get(parent_key, ())}
        children = {whole: groups[key] for whole, key in families[parent_key].items()}
        if any(member.numeral.part for members in children.values() for member in members):
            continue
        parts = {whole: [member.numeral.whole for member in members] for whole, members in children.items()}
        subs = [
            _Numbered(Numeral(whole, sub.numeral.whole), sub.file)
            for whole, members in children.items()
            for sub in members
        ]
        if are_subframes(wholes, parts) or stated(parent_key[0]).issuperset(sub.numeral.value for sub in subs):
            groups[parent_key] += subs
            for whole in children:
                del groups[families[parent_key][whole]]


def _add_group(found: _Discovered, folder: bytes, relative: Name, stem: bytes, members: list[_Numbered]) -> None:
    padding = padding_of(member.numeral.whole for member in members)
    suffix = min(Counter(member.file.suffix for member in members).items(), key=lambda item: (-item[1], item[0]))[0]

    def order(member: _Numbered) -> tuple[int, bytes, bool, bool, bytes]:
        whole, part = member.numeral.order
        other_padding = member.numeral.whole != b"%0*d" % (padding, whole)
        return whole, part, other_padding, member.file.suffix != suffix, member.file.path

    members.sort(key=order)
    for run in _runs(members):
        files = tuple(_frame_file(member) for member in run)
        sequence = Sequence(path_of(folder), relative, Name(stem), Name(suffix), padding, files)
        alone = len(files) == 1 and (len(members) > 1 or not _LONE_FRAME.fullmatch(run[0].file.base))
        if alone or _holes(sequence) > MOST_MISSING:
            found.stills += [file.path for file in files]
        else:
            found.sequences.append(sequence)


def _frame_file(member: _Numbered) -> FrameFile:
    file = member.file
    target = None if file.place == file.path else path_of(file.place)
    size, modified, changed, inode = file.state
    return FrameFile(member.numeral.value, path_of(file.path), size, modified, target, changed, inode)


def _runs(members: list[_Numbered]) -> list[list[_Numbered]]:
    """Split a sorted list of files wherever the frame numbers of two neighbours differ by more than MOST_MISSING."""
    wholes = [member.numeral.order[0] for member in members]
    cuts = [at for at, (before, after) in enumerate(pairwise(wholes), 1) if after - before > MOST_MISSING]
    return [members[start:stop] for start, stop in pairwise([0, *cuts, len(members)])]


def _holes(sequence: Sequence) -> Fraction:
    """Return an upper bound for the number of missing frames, without listing them."""
    return (sequence.files[-1].number - sequence.files[0].number) / sequence.step - len(sequence.files) + 1
