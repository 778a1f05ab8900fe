"""Find the files that references lead to: the libraries of a frame, and the maps of a library."""

from __future__ import annotations

import enum
import os
import posixpath
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import takewhile
from pathlib import Path

from inspector.names import Name
from inspector.sequence.discovery.scope import Scope, fold

_TOKEN = re.compile(rb'"[^"]*"|[^ \t\x0b\x0c]+')
_TILES = {b"<udim>": (b"1001", rb"1\d\d\d"), b"<uvtile>": (b"u1_v1", rb"u\d+_v\d+")}
"""Placeholders for UV tiles in names, each with the text for the first tile and a pattern for any tile (common
practice, no source)."""
_PLACE = b"\x01"
_TILE = re.compile(rb"<udim>|<uvtile>", re.IGNORECASE)
_FIRST_TILE = re.compile(rb"(?<=[._-])1001(?=\.[^.]*\Z)")
_DRIVE = re.compile(rb"\A[A-Za-z]:")

_QUOTED = "written in quotation marks"
_BACKSLASHES = "written with backslashes"
_ABSOLUTE = "a drive letter or absolute path from another machine"
_CASE = "letter case differs"
_FOLDER_CASE = "the case of a folder's name differs"
_ACCENTS = "the name encodes its accents in a different way"
_FOLLOWED = "an option or a comment follows the name"
_BESIDE_FRAMES = "beside the frames, not beside the library"
_ELSEWHERE = "elsewhere in the folder"


class Status(enum.Enum):
    """How a reference was resolved.

    Attributes:
        FOUND: The file is exactly at the path in the reference, relative to the folder of the referring file.
        NEAR: A file was found inside the scope, but not exactly at the path in the reference.
        MISSING: No file was found in any folder that was searched.
        OUTSIDE: No file was found inside the scope, and the path or a link leads out of it. Nothing outside is
            examined, so the file may exist.
    """

    FOUND = "found"
    NEAR = "near"
    MISSING = "missing"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Target:
    """The file that a reference leads to.

    Attributes:
        status: How the reference was resolved.
        path: The file (with UV tiles, the first tile), for FOUND and NEAR; otherwise None.
        how: The problem, for NEAR and OUTSIDE; otherwise None.
        rivals: Other files that fit equally well, so that the choice of `path` is a guess.
        others: Files with the same name that fit less well, the best first.
        tiles: The files of the other UV tiles.
        token: The placeholder of the tile in the reference, such as `<UDIM>`; b"" if there is none.
        number: The number of the first tile as written in its file name; b"" if there are no tiles.
    """

    status: Status
    path: Path | None = None
    how: str | None = None
    rivals: tuple[Path, ...] = ()
    others: tuple[Path, ...] = ()
    tiles: tuple[Path, ...] = ()
    token: bytes = b""
    number: bytes = b""

    @property
    def files(self) -> tuple[Path, ...]:
        """All files that the reference leads to."""
        return () if self.path is None else (self.path, *self.tiles)

    def first_name(self, name: Name) -> Name:
        """Return the reference with the first tile's number in place of the token."""
        return Name(name.raw.replace(self.token, self.number)) if self.token else name

    def tile_place(self, place: str, tile: Path) -> str:
        """Return the new path of a tile after the first tile is moved or renamed."""
        if self.path is None:
            return place
        before, _, after = os.fsencode(self.path.name).rpartition(self.number)
        name = os.fsencode(tile.name)
        head, _, tail = os.fsencode(place).rpartition(self.number)
        return os.fsdecode(head + name[len(before) : len(name) - len(after)] + tail)

    def written_as(self, place: str) -> bytes:
        """Return the reference to write if the first tile, or the only file, has the path `place`. If the original
        reference contains a token, the returned reference contains the same token in place of the tile's number."""
        if not self.token:
            return os.fsencode(place)
        head, _, tail = os.fsencode(place).rpartition(self.number)
        return head + self.token + tail


@dataclass(frozen=True, slots=True)
class _Written:
    """A reference, corrected to be a path.

    Attributes:
        plain: The reference without quotation marks, and with slashes instead of backslashes.
        relative: The same path without a drive and without slashes at its start.
        faults: The faults that were corrected, in words.
    """

    plain: bytes
    relative: bytes
    faults: tuple[str, ...]


def resolve_libraries(rest_of_line: Name, folder: Path, scope: Scope) -> tuple[tuple[Name, Target], ...]:
    """Find the libraries named on an `mtllib` line, each with its target.

    The text after `mtllib` may be one name with spaces, or several names (OBJ Appendix B1 v3.0). The first of these
    readings that applies is used:
    - The whole text is one name, if a file has exactly this name.
    - Each word is a name, if at least one word is exactly the name of a file, or if all words end in `.mtl`.
    - The whole text is one name, if a file is found for it, but not under exactly this name.
    - Each word is a name, if a file is found for one of the words, but not under exactly this name.
    - The whole text is one name, for which no file is found.
    """
    line = Name(rest_of_line.raw.strip())
    whole = (line, _resolve(line.raw, [folder], scope))
    if whole[1].status is Status.FOUND:
        return (whole,)
    words = [Name(word) for word in takewhile(lambda word: not word.startswith(b"#"), _TOKEN.findall(line.raw))]
    each = tuple((word, _resolve(word.raw, [folder], scope)) for word in words)
    states = {target.status for _, target in each}
    several = bool(words) and all(word.raw.strip(b'"').lower().endswith(b".mtl") for word in words)
    if several or Status.FOUND in states or (Status.NEAR in states and whole[1].status is not Status.NEAR):
        return each
    return (whole,)


def resolve_map(
    name: Name, library_folder: Path, frame_folder: Path, scope: Scope, *, followed: bool = False
) -> Target:
    """Find the texture that a map statement of a library refers to: one file, or one file per UV tile."""
    folders = [library_folder, frame_folder]
    token = _TILE.search(name.raw)
    target = _resolve(name.raw, folders, scope) if token is None else _resolve_tiles(token, folders, scope)
    if token is None and target.path is not None and (first := _FIRST_TILE.search(os.fsencode(target.path.name))):
        target = replace(target, tiles=_tiles_beside(target.path, first, scope), number=first[0])
    if followed and target.status is Status.FOUND:
        return replace(target, status=Status.NEAR, how=_FOLLOWED)
    return target


def _resolve_tiles(token: re.Match[bytes], folders: Sequence[Path], scope: Scope) -> Target:
    """Find the tiles that a reference with a token leads to.

    The first tile is searched for like any other file; the other tiles must be in the same folder.
    """
    before, after = token.string[: token.start()], token.string[token.end() :]
    inside, base = posixpath.split(_clean(before + _PLACE + after).relative)
    first = _TILES[token[0].lower()][0]
    if _PLACE in base:
        pattern = _pattern(base.replace(_PLACE, first), base.index(_PLACE), token[0])
        first = next(_numbers(pattern, inside, folders, scope), first)
    target = _resolve(before + first + after, folders, scope)
    at = None if target.path is None else re.search(re.escape(first), os.fsencode(target.path.name))
    if target.path is None or at is None:
        return target
    return replace(target, tiles=_tiles_beside(target.path, at, scope, token[0]), token=token[0], number=first)


def _numbers(pattern: re.Pattern[bytes], inside: bytes, folders: Sequence[Path], scope: Scope) -> Iterator[bytes]:
    """Yield the numbers of the tiles that exist."""
    for folder in folders:
        place = folder / os.fsdecode(inside)
        if not scope.leads_outside(folder, inside or b".") and place.is_dir():
            matches = (pattern.fullmatch(os.fsencode(name)) for name in scope.names_in(place))
            yield from (match[1] for match in matches if match)


def _tiles_beside(path: Path, number: re.Match[bytes], scope: Scope, token: bytes = b"<udim>") -> tuple[Path, ...]:
    """Find the other tiles: files in the same folder whose names differ only in the number of the tile."""
    pattern = _pattern(os.fsencode(path.name), number.start(), token)
    return tuple(
        path.parent / name
        for name in scope.names_in(path.parent)
        if name != path.name and pattern.fullmatch(os.fsencode(name)) and scope.contains(path.parent / name)
    )


def _pattern(name: bytes, start: int, token: bytes) -> re.Pattern[bytes]:
    """Make a pattern for the names of all tiles, from the name of the first tile and the index at which its number
    starts."""
    first, tile = _TILES[token.lower()]
    return re.compile(b"%b(%b)%b" % (re.escape(name[:start]), tile, re.escape(name[start + len(first) :])))


def _resolve(raw: bytes, folders: Sequence[Path], scope: Scope) -> Target:
    """Find the file that a reference without a token leads to. The folders are in order of preference."""
    if not raw or b"\0" in raw:
        return Target(Status.MISSING)
    written = _clean(raw)
    literal = scope.exact(folders[0], raw)
    if literal is not None and not written.faults:
        return Target(Status.FOUND, literal)
    if literal is not None:
        return Target(Status.NEAR, literal, "; ".join(written.faults))
    climbs = scope.names_outside(folders[0], written.plain)
    if not climbs and scope.leads_outside(folders[0], written.relative):
        return Target(
            Status.OUTSIDE, None, "a link to a file that is in neither the inspected folder nor a --textures folder"
        )
    best, others = _candidates(written, folders, scope)
    if best:
        differences = "; ".join(_differences(written, best[0], folders))
        return Target(Status.NEAR, best[0], differences, tuple(best[1:]), tuple(others))
    if climbs:
        return Target(Status.OUTSIDE, None, "a path outside the inspected folder and the --textures folders")
    return Target(Status.MISSING)


def _clean(raw: bytes) -> _Written:
    faults = []
    plain = raw
    if len(plain) > 1 and plain[:1] == plain[-1:] and plain[:1] in (b'"', b"'"):
        plain = plain[1:-1].strip()
        faults.append(_QUOTED)
    if b"\\" in plain:
        plain = plain.replace(b"\\", b"/")
        faults.append(_BACKSLASHES)
    relative = _DRIVE.sub(b"", plain, count=1).lstrip(b"/")
    if relative != plain:
        faults.append(_ABSOLUTE)
    return _Written(plain, relative, tuple(faults))


def _candidates(written: _Written, folders: Sequence[Path], scope: Scope) -> tuple[list[Path], list[Path]]:
    """Find the files that a reference may mean.

    If there is a file at the written path, it is the only candidate. Otherwise, the candidates are the files with the
    same base name, ranked by these criteria, in this order. A candidate ranks higher if:

    - It is in one of `folders` (earlier folders first), or below one of them in the subfolders named in the reference.
    - Its path has more folders in common with the reference, counted from the end.
    - It is nearer to the frames: a sequence should use its own file, not one of a neighbouring sequence.
    - It has exactly the base name in the reference, including the letter case.

    Returns:
        The most likely file (several files if they are equally likely), and the other files, the most likely first.
    """
    for folder in folders:
        path = scope.exact(folder, written.relative)
        if path is not None:
            return [path], []
    base = written.relative.rsplit(b"/", 1)[-1]
    alike = scope.by_base_name(base)
    if not alike:
        return [], []
    places = [folder.resolve() for folder in folders]
    inspected = len(scope.roots[0].parts)

    def likeness(path: Path) -> tuple[int, int, int, bool]:
        shared = _shared_tail(written.relative, path)
        start = path.parents[shared - 1]
        beside = len(places) - places.index(start) if start in places else 0
        near = max(_alike(places[-1].parts, path.parts), inspected)  # files in other roots keep their order
        return beside, shared, near, os.fsencode(path.name) == base

    likely = sorted(alike, key=likeness, reverse=True)
    best = [path for path in likely if likeness(path) == likeness(likely[0])]
    return best, likely[len(best) :]


def _shared_tail(relative: bytes, path: Path) -> int:
    """Count the parts that two paths have in common at their ends, ignoring letter case."""
    ours = [fold(part) for part in reversed(relative.split(b"/"))]
    theirs = [fold(os.fsencode(part)) for part in reversed(path.parts)]
    return _alike(ours, theirs)


def _alike(ours: Sequence[str], theirs: Sequence[str]) -> int:
    """Count the parts that two paths have in common at their start."""
    return len(list(takewhile(lambda pair: pair[0] == pair[1], zip(ours, theirs, strict=False))))


def _differences(written: _Written, path: Path, folders: Sequence[Path]) -> list[str]:
    """List, in words, how a reference differs from the path of the file that it leads to."""
    found = os.fsencode(path)
    faults = list(written.faults)
    relative = [part for part in written.relative.split(b"/") if part]
    tail = [os.fsencode(part) for part in path.parts[-len(relative) :]]
    if tail[-1] != relative[-1]:
        faults.append(_spelling(tail[-1], relative[-1], _CASE))
    places = [os.path.normpath(folder.resolve() / os.fsdecode(written.relative)) for folder in folders]
    alike = [fold(os.fsencode(place)) == fold(found) for place in places]
    if not any(alike):
        return [*faults, _ELSEWHERE]
    folder_pairs = [(a, b) for a, b in zip(tail[:-1], relative[:-1], strict=False) if a != b and fold(a) == fold(b)]
    faults += dict.fromkeys(_spelling(*pair, _FOLDER_CASE) for pair in folder_pairs)
    return faults if alike[0] else [*faults, _BESIDE_FRAMES]


def _spelling(found: bytes, written: bytes, other_case: str) -> str:
    def composed(name: bytes) -> str:
        return unicodedata.normalize("NFC", name.decode("utf-8", "surrogateescape"))

    return _ACCENTS if composed(found) == composed(written) else other_case
