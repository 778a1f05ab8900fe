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
from inspector.sequence.discovery.scope import Scope, fold

_TOKEN = re.compile(rb'"[^"]*"|[^ \t\x0b\x0c]+')
_DRIVE = re.compile(rb"\A[A-Za-z]:")

_QUOTED = "written in quotation marks"
_BACKSLASHES = "written with backslashes"
_ABSOLUTE = "a drive letter or absolute path from another machine"
_CASE = "the file's name has other upper and lower case"
_FOLDER_CASE = "a folder's name has other upper and lower case"
_ACCENTS = "the name codes its accents in another way"
_BESIDE_FRAMES = "found beside the frames, not beside the library"
_ELSEWHERE = "elsewhere in the folder"


class Status(enum.Enum):
    """FOUND: as written, from the right folder. NEAR: found inside the scope, but not as written.

    OUTSIDE: not found, and the path or a link leads out of the scope, where nothing is looked at: whether a file is
    there isn't known. MISSING: not found, and there is no other place to look.
    """

    FOUND = "found"
    NEAR = "near"
    MISSING = "missing"
    OUTSIDE = "outside"


@dataclass(frozen=True, slots=True)
class Target:
    """Where a reference leads. `path` is set for FOUND and NEAR; `how` says, for NEAR and OUTSIDE, what is amiss.

    `rivals`: other files that fit just as well; to take one is then a guess.
    """

    status: Status
    path: Path | None = None
    how: str | None = None
    rivals: tuple[Path, ...] = ()


@dataclass(frozen=True, slots=True)
class _Written:
    """A reference without quotation marks and backslashes, the same as a relative path, and what was in the way."""

    plain: bytes
    relative: bytes
    faults: tuple[str, ...]


def resolve_libraries(rest_of_line: Name, folder: Path, scope: Scope) -> tuple[tuple[Name, Target], ...]:
    """The files that the rest of an `mtllib` line names, seen from the frame's folder.

    The whole rest if that file exists (a name with blanks), else its words if one of them is found (OBJ Appendix
    B1 v3.0: several names are searched in order), else the same for near misses. Words that all end in `.mtl` are
    several names in any case; what else isn't found at all is one name.
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


def resolve_map(name: Name, library_folder: Path, frame_folder: Path, scope: Scope) -> Target:
    """The file that a map of a library names, seen from the library's folder, then from the frame's."""
    return _resolve(name.raw, [library_folder, frame_folder], scope)


def _resolve(raw: bytes, folders: Sequence[Path], scope: Scope) -> Target:
    """The one way of every reference; `folders` are the places it may be seen from, the right one first."""
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
        return Target(Status.OUTSIDE, None, "a link leads outside the folders that may be read")
    candidates = _best(written, folders, scope)
    if candidates:
        differences = "; ".join(_differences(written, candidates[0], folders))
        return Target(Status.NEAR, candidates[0], differences, tuple(candidates[1:]))
    if climbs:
        return Target(Status.OUTSIDE, None, "the path leads outside the folders that may be read")
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


def _best(written: _Written, folders: Sequence[Path], scope: Scope) -> list[Path]:
    """The file that is most likely meant, and behind it those that are as likely. Empty if there is none.

    The file at the written place; else, of the files with the same base name, those that share most folders with the
    reference, counted from the end; of these the ones nearest to the frames, so that a sequence takes its own before a
    neighbour's of the same name; and of these the ones of exactly this name.
    """
    for folder in folders:
        path = scope.exact(folder, written.relative)
        if path is not None:
            return [path]
    base = written.relative.rsplit(b"/", 1)[-1]
    frames, inspected = folders[-1].resolve().parts, len(scope.roots[0].parts)

    def likeness(path: Path) -> tuple[int, int, bool]:
        near = max(_alike(frames, path.parts), inspected)  # further folders stay in the order in which they are named
        return _shared_tail(written.relative, path), near, os.fsencode(path.name) == base

    alike = scope.by_base_name(base)
    most = max(map(likeness, alike), default=None)
    return [path for path in alike if likeness(path) == most]


def _shared_tail(relative: bytes, path: Path) -> int:
    """How many parts the two paths share at their ends, without regard to case."""
    ours = [fold(part) for part in reversed(relative.split(b"/"))]
    theirs = [fold(os.fsencode(part)) for part in reversed(path.parts)]
    return _alike(ours, theirs)


def _alike(ours: Sequence[str], theirs: Sequence[str]) -> int:
    """How many parts the two have in common from the first on."""
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
    folder_pairs = [(a, b) for a, b in zip(tail[:-1], relative[:-1], strict=False) if a != b and fold(a) == fold(b)]
    faults += dict.fromkeys(_spelling(*pair, _FOLDER_CASE) for pair in folder_pairs)
    return faults if alike[0] else [*faults, _BESIDE_FRAMES]


def _spelling(found: bytes, written: bytes, other_case: str) -> str:
    def composed(name: bytes) -> str:
        return unicodedata.normalize("NFC", name.decode("utf-8", "surrogateescape"))

    return _ACCENTS if composed(found) == composed(written) else other_case
