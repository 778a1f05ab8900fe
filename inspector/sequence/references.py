"""What a reference in a file leads to: the libraries of a frame, the maps of a library."""

from __future__ import annotations

import enum
import os
import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path

from inspector.names import Name
from inspector.sequence.scope import Scope, fold

_TOKEN = re.compile(rb'"[^"]*"|[^ \t\x0b\x0c]+')
_DRIVE = re.compile(rb"[A-Za-z]:")

_QUOTED = "written in quotation marks"
_BACKSLASHES = "written with backslashes"
_ABSOLUTE = "a drive letter or absolute path from another machine"
_CASE = "the file's name has other upper and lower case"
_FOLDER_CASE = "a folder's name has other upper and lower case"
_ACCENTS = "the name codes its accents in another way"
_BESIDE_FRAMES = "found beside the frames, not beside the library"
_ELSEWHERE = "elsewhere in the folder"


class Status(enum.Enum):
    """FOUND: as written, from the right folder. NEAR: found, but not as written. OUTSIDE: not looked at."""

    FOUND = "found"
    NEAR = "near"
    MISSING = "missing"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Target:
    """Where a reference leads. `path` is set for FOUND and NEAR; `how` says, for NEAR and OUTSIDE, what is amiss."""

    status: Status
    path: Path | None = None
    how: str | None = None


@dataclass(frozen=True, slots=True)
class _Written:
    """A reference as written, the relative path with forward slashes it comes down to, and what was in the way."""

    raw: bytes
    relative: bytes
    faults: tuple[str, ...]
    drive: bool


def resolve_libraries(rest_of_line: Name, folder: Path, scope: Scope) -> tuple[tuple[Name, Target], ...]:
    """The files that the rest of an `mtllib` line names, seen from the frame's folder.

    The whole rest if that file exists (a name with blanks), else its words if one of them is found (OBJ Appendix
    B1 v3.0: several names are searched in order), else the same for near misses. What isn't found at all is one name,
    unless every word ends in `.mtl`.
    """
    line = Name(rest_of_line.raw.strip())
    whole = (line, _resolve(line.raw, [folder], scope))
    if whole[1].status is Status.FOUND:
        return (whole,)
    words = [
        Name(word) for word in takewhile(lambda word: not word.startswith(b"#"), _TOKEN.findall(line.raw))
    ]
    if len(words) < 2:
        return (
            (whole,)
            if not words or words[0] == line
            else ((words[0], _resolve(words[0].raw, [folder], scope)),)
        )
    each = tuple((word, _resolve(word.raw, [folder], scope)) for word in words)
    if any(target.status is Status.FOUND for _, target in each):
        return each
    if whole[1].status is Status.NEAR:
        return (whole,)
    several = all(word.raw.strip(b'"').lower().endswith(b".mtl") for word in words)
    return each if several or any(target.status is Status.NEAR for _, target in each) else (whole,)


def resolve_map(name: Name, library_folder: Path, frame_folder: Path, scope: Scope) -> Target:
    """The file that a map of a library names, seen from the library's folder, then from the frame's."""
    return _resolve(name.raw, [library_folder, frame_folder], scope)


def _resolve(raw: bytes, folders: Sequence[Path], scope: Scope) -> Target:
    """The one way of every reference; `folders` are the places it may be seen from, the right one first."""
    if not raw or b"\0" in raw:
        return Target(Status.MISSING)
    written = _clean(raw)
    literal = scope.exact(folders[0], raw)
    if literal is not None:
        return (
            Target(Status.NEAR, literal, "; ".join(written.faults))
            if written.faults
            else Target(Status.FOUND, literal)
        )
    by_text = scope.names_outside(folders[0], raw)
    if not by_text and scope.leads_outside(folders[0], raw):
        return Target(Status.OUTSIDE, None, "a link leads outside the folders that may be read")
    path = _best(written, folders, scope)
    if path is not None:
        return Target(Status.NEAR, path, "; ".join(_differences(written, path, folders)))
    if written.drive or not (by_text or scope.names_outside(folders[0], written.relative)):
        return Target(Status.MISSING)
    return Target(Status.OUTSIDE, None, "the path leads outside the folders that may be read")


def _clean(raw: bytes) -> _Written:
    faults = []
    text = raw
    if len(text) > 1 and text[:1] == text[-1:] and text[:1] in (b'"', b"'"):
        text = text[1:-1].strip()
        faults.append(_QUOTED)
    if b"\\" in text:
        text = text.replace(b"\\", b"/")
        faults.append(_BACKSLASHES)
    drive = _DRIVE.match(text) is not None
    if drive or text.startswith(b"/"):
        text = (text[2:] if drive else text).lstrip(b"/")
        faults.append(_ABSOLUTE)
    return _Written(raw, text, tuple(faults), drive)


def _best(written: _Written, folders: Sequence[Path], scope: Scope) -> Path | None:
    """The file in the scope that is most likely meant: at the written place, else the one with the likest path.

    Of files with the same base name, the one that shares most folders with the reference, counted from the end;
    then the one of exactly this name; then the first of the index, whose order is fixed.
    """
    for folder in folders:
        path = scope.exact(folder, written.relative)
        if path is not None:
            return path
    alike = scope.by_base_name(written.relative.rsplit(b"/", 1)[-1])
    return max(alike, key=lambda path: _shared_tail(written.relative, path), default=None)


def _shared_tail(relative: bytes, path: Path) -> int:
    """How many parts the two paths share at their ends, without regard to case."""
    ours = [fold(part) for part in reversed(relative.split(b"/"))]
    theirs = [fold(os.fsencode(part)) for part in reversed(path.parts)]
    return len(list(takewhile(lambda pair: pair[0] == pair[1], zip(ours, theirs, strict=False))))


def _differences(written: _Written, path: Path, folders: Sequence[Path]) -> list[str]:
    """In plain words, how the reference and the place of the file that it leads to differ."""
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
    folder_pairs = [
        (a, b) for a, b in zip(tail[:-1], relative[:-1], strict=False) if a != b and fold(a) == fold(b)
    ]
    faults += dict.fromkeys(_spelling(*pair, _FOLDER_CASE) for pair in folder_pairs)
    return faults if alike[0] else [*faults, _BESIDE_FRAMES]


def _spelling(found: bytes, written: bytes, other_case: str) -> str:
    def composed(name: bytes) -> str:
        return unicodedata.normalize("NFC", name.decode("utf-8", "surrogateescape"))

    return _ACCENTS if composed(found) == composed(written) else other_case
