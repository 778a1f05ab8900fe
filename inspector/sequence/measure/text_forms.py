"""Examine how a frame's file is written: traits of the program that wrote it, and valid forms that some programs
misread."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import takewhile

import numpy as np

from inspector import _native, limits
from inspector.formats.frame import ABSENT, FORM_BYTES, Block, Frame
from inspector.formats.problems import Place, Problem
from inspector.formats.wavefront.statements import BLANK, BYTE_ORDER_MARK, COMMENT, FACE_STATEMENTS, NUMBER_STATEMENTS
from inspector.names import Name

COMPARED_PAIRWISE = 6
"""Maximum number of corners per face for which comparing all pairs of corners is faster than sorting."""

FORM_NUMBERS = 30
"""Minimum number of coordinates that must all have the same number of decimal places for that number to count as fixed.
If a writer drops trailing zeros, 30 coordinates have the same number of decimal places by chance in 1 of 25 files."""

_ODD_NUMBER = re.compile(rb"(?<=[ \t/])(?:\+[0-9.]|-?\.[0-9]|-?[0-9]+\.(?=[ \t\r\neE])|-?0[0-9])[^ \t\r\n/]*")
_MONTHS_AND_DAYS = (
    rb"(?:jan|feb|mar|apr|may|jun|jul|aug|sep|oct|nov|dec|mon|tue|wed|thu|fri|sat|sun)"
    rb"(?:uary|ruary|ch|il|e|y|ust|tember|t|ober|ember|day|sday|nesday|rsday|urday)?"
)
# Text that differs between runs of the same writer: dates, times, counts, frame numbers in names.
_PASSING = re.compile(rb"\b(?:" + _MONTHS_AND_DAYS + rb"|am|pm|utc|gmt|ces?t|[0-9]+)\b|[0-9]{3,}", re.IGNORECASE)
_VERSION = re.compile(rb"(?<![0-9.:/-])[0-9]{1,2}(?:\.[0-9]{1,3}){1,2}(?![0-9.:/-])")


def header_words(frame: Frame) -> bytes:
    """Return the words in the comments above the first statement, separated by spaces, without text that differs
    between runs of a writer; b"" if there are none.

    Dates, times and numbers are left out, except version numbers, such as 2.93 or 3.0.1. Version numbers are moved to
    the end. Only the first FORM_BYTES bytes of the comments are read.
    """
    above = takewhile(lambda block: block.keyword in (COMMENT, BLANK, BYTE_ORDER_MARK), frame.blocks)
    header = b"".join(frame.data[block.start : block.stop] for block in above if block.keyword == COMMENT)
    header = header[:FORM_BYTES]
    words = _PASSING.sub(b"", _VERSION.sub(b"", header)).split()
    return b" ".join([*words, *_VERSION.findall(header)])


def line_end(frame: Frame) -> str:
    """Return the line ending of the file: "LF" or "CRLF".

    The result is "" if there is no line ending, or if the reader reported mixed line endings or bare carriage returns.
    """
    if any(problem.kind in ("mixed-newlines", "bare-returns") for problem in frame.problems):
        return ""
    end = frame.data.find(b"\n")
    return "" if end < 0 else "CRLF" if frame.data[:end].endswith(b"\r") else "LF"


def fixed_decimals(frame: Frame) -> int | None:
    """Return the number of decimal places, including trailing zeros, that all examined coordinates have.

    None if the number differs between coordinates, or if fewer than FORM_NUMBERS coordinates were examined.
    """
    block = next((block for block in frame.blocks if block.keyword == b"v"), None)
    if block is None:
        return None
    count, decimals = count_decimals(_head(frame, block))
    return decimals if count >= FORM_NUMBERS and decimals >= 0 else None


def count_decimals(text: bytes) -> tuple[int, int]:
    """Return the number of coordinates x, y and z on the complete lines of a text, and the number of decimal places
    that all of them have. The latter is -1 if the coordinates have different numbers of decimal places, or if there are
    no coordinates."""
    if _native.active:
        return _native.core.count_decimals(text, 3)
    rows = [line.split()[1:4] for line in text.split(b"\n")[:-1]]
    decimals = [len(number.partition(b".")[2]) for row in rows for number in row]
    return len(decimals), decimals[0] if len(set(decimals)) == 1 else -1


def form_problems(frame: Frame) -> Iterator[Problem]:
    """Yield problems of the written form that the reader doesn't report.

    They are faces without a material, numbers in an odd form, and indices that start at 0.
    """
    yield from _faces_before_material(frame)
    odd = _odd_number(frame)
    if odd is not None:
        yield Problem("odd-number", 1, (odd,))
    kinds = {problem.kind for problem in frame.problems}
    if "index-zero" in kinds and counts_from_zero(frame, kinds):
        yield Problem("zero-based", 1, next(one.places[:1] for one in frame.problems if one.kind == "index-zero"))


def _faces_before_material(frame: Frame) -> Iterator[Problem]:
    bare = [run for run in frame.runs if run.material is None and run.stop > run.start]
    if bare:
        places = tuple(Place(frame.blocks[run.block].first_line, run.start) for run in bare[: limits.PLACES_KEPT])
        yield Problem("face-without-material", sum(run.stop - run.start for run in bare), places)


def _odd_number(frame: Frame) -> Place | None:
    for keyword in (*NUMBER_STATEMENTS, *FACE_STATEMENTS):
        block = next((block for block in frame.blocks if block.keyword == keyword), None)
        if block is None:
            continue
        head = _head(frame, block)
        match = find_odd_number(head)
        if match:
            return Place(block.first_line + head.count(b"\n", 0, match.start()), None, Name(match.group()))
    return None


def find_odd_number(text: bytes) -> re.Match[bytes] | None:
    """Find the first number in an odd form, such as +1, .5, 5. or 05, after a space, a tab or a slash; None if there is
    none."""
    if _native.active and not _native.core.has_odd_number(text):
        return None
    return _ODD_NUMBER.search(text)


def _head(frame: Frame, block: Block) -> bytes:
    return frame.data[block.start : min(block.stop, block.start + FORM_BYTES)]


def counts_from_zero(frame: Frame, kinds: set[str]) -> bool:
    """Whether the vertex indices and the UV indices start at 0 instead of at 1.

    The highest index is then one less than the number of vertices or UVs. Each 0 in the file has become ABSENT.
    """
    if kinds & {"index-range", "relative-index"}:
        return False
    pairs = [(frame.corners.v, len(frame.positions))]
    if (frame.corners.vt != ABSENT).any():
        if "vt-index-range" not in kinds:
            return False
        pairs.append((frame.corners.vt, len(frame.uvs)))
    return all(int(indices.max()) == count - 2 for indices, count in pairs)


def repeated_corners(frame: Frame) -> list[int]:
    """Return the ascending indices of the faces that use a vertex more than once."""
    if _native.active:
        flags = np.empty(frame.faces, np.uint8)
        count = _native.core.find_repeated(*frame.corners.packed(), len(frame.positions), flags)
        return np.flatnonzero(flags).tolist() if count else []
    sizes, v = frame.corners.sizes, frame.corners.v
    found: list[int] = []
    for size in (np.flatnonzero(np.bincount(sizes, minlength=2)[2:]) + 2).tolist():
        faces = np.flatnonzero(sizes == size)
        rows = v if len(faces) == len(sizes) else v[frame.corners.offsets[faces][:, None] + np.arange(size)]
        rows = np.ascontiguousarray(rows.reshape(-1, size).T)
        twice = np.zeros(len(faces), bool)
        if size <= COMPARED_PAIRWISE:
            for one in range(size):
                for other in range(one):
                    twice |= (rows[one] == rows[other]) & (rows[one] != ABSENT)
        else:
            rows = np.sort(rows, axis=0)  # a copy: the rows of a lone face are the frame's own, read-only
            twice = ((rows[1:] == rows[:-1]) & (rows[1:] != ABSENT)).any(axis=0)
        found += faces[twice].tolist()
    return sorted(found)
