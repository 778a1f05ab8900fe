"""Texture files in a numbered series: one file per frame, or one per UV tile."""

from __future__ import annotations

import os
import re
from pathlib import Path

from inspector.sequence.discovery.scope import Scope

_NUMBER = re.compile(rb"\A(.*?)([._ -]?)(\d{1,9})(\.[^.]*)?\Z", re.DOTALL)
_VERSION = re.compile(rb"(?:\A|[._ -])v\Z", re.IGNORECASE)


def number_of(name: str) -> int | None:
    """Return the number at the end of a file name, before the extension.

    The result is None if there is no number, if no name precedes it, or if it is a version (`_v012`).
    """
    found = _NUMBER.match(os.fsencode(name))
    if found is None or not found[1] or (not found[2] and _VERSION.search(found[1])):
        return None
    return int(found[3])


def without_number(name: str) -> bytes:
    """Return a file name without its number, if it has one. The result is the same for all files of a series."""
    found = _NUMBER.match(os.fsencode(name))
    if found is None or number_of(name) is None:
        return os.fsencode(name)
    return found[1] + found[2] + (found[4] or b"")


def series_beside(path: Path, scope: Scope) -> dict[int, Path]:
    """Return the files, by number, of the numbered series that a file belongs to; empty if its name has no number. Only
    names in its folder are compared; no file is opened."""
    if number_of(path.name) is None:
        return {}
    stem = without_number(path.name)
    names = (name for name in scope.names_in(path.parent) if without_number(name) == stem)
    alike = ((number_of(name), name) for name in names)
    return {number: path.parent / name for number, name in alike if number is not None}


def run_of(numbers: set[int], number: int) -> range:
    """Return the longest range of consecutive numbers that contains `number` and, apart from it, only members of
    `numbers`."""
    first = last = number
    while first - 1 in numbers:
        first -= 1
    while last + 1 in numbers:
        last += 1
    return range(first, last + 1)
