"""Read face lines of any form, corner by corner. This is slow, but everything irregular is reported as a problem."""

from __future__ import annotations

import re

import numpy as np

from inspector.formats.problems import Place, ProblemLog
from inspector.formats.wavefront.face_table import NOT_GIVEN, FaceTable, face_table
from inspector.names import Name
from inspector.threshold import Threshold

MANY_CORNERS = Threshold(
    "many-corners",
    255,
    "Maximum number of corners per face that all readers support. A face with more corners is reported. Readers that "
    "store the number of corners in one byte overflow above 255 (tinyobjloader, issue 150).",
    unit="corners",
)

_BLANKS = re.compile(rb"[ \t\r]+")
_INTEGER = re.compile(rb"([+-]?)0*([0-9]+)")
_INT64_DIGITS = 19


def read_lines(text: bytes) -> FaceTable:
    """Read face lines of any form. Each line begins with the keyword; blank lines are ignored."""
    return _FaceLines().read(text)


class _FaceLines:
    def __init__(self) -> None:
        self._corners: list[tuple[int, int, int]] = []
        self._offsets = [0]
        self._log = ProblemLog()
        self._line = 0

    def read(self, text: bytes) -> FaceTable:
        for self._line, line in enumerate(text.split(b"\n")):
            stripped = line.strip(b" \t\r")
            if stripped:
                self._read_face(stripped)
        slots = np.array(self._corners, np.int64).reshape(-1, 3).T
        v, vt, vn = map(np.ascontiguousarray, slots)
        return face_table(np.array(self._offsets, np.int64), v, vt, vn, self._log.problems())

    def _read_face(self, line: bytes) -> None:
        data, mark, comment = line.partition(b"#")
        if mark:
            self._report("trailing-comment", mark + comment)
        tokens = _BLANKS.split(data.rstrip(b" \t\r"))[1:]
        forms = [self._read_corner(token) for token in tokens]
        odd = next((token for token, form in zip(tokens, forms, strict=True) if form != forms[0]), None)
        if odd is not None:
            self._report("mixed-corners", odd)
        if len(tokens) < 3:
            self._report("degenerate-face")
        if len(tokens) > MANY_CORNERS.value:
            self._report("n-gons")
        self._offsets.append(len(self._corners))

    def _read_corner(self, token: bytes) -> tuple[bool, ...]:
        """Store one corner. Return whether it has a vertex, whether it has a UV, and whether it has a normal."""
        slots = token.split(b"/")
        if len(slots) > 3:
            self._report("bad-number", token)
            slots = slots[:3]
        elif len(slots) > 1 and not slots[-1]:
            self._report("empty-index", token)
        slots += [b""] * (3 - len(slots))
        v, vt, vn = (self._index(slot, token) for slot in slots)
        if not slots[0]:
            self._report("bad-number", token)
        self._corners.append((v, vt, vn))
        return tuple(map(bool, slots))

    def _index(self, slot: bytes, token: bytes) -> int:
        if not slot:
            return NOT_GIVEN
        if len(slot) < _INT64_DIGITS and slot.isdigit():
            return int(slot)
        match = _INTEGER.fullmatch(slot)
        if not match:
            self._report("bad-number", token)
            return NOT_GIVEN
        index = int(match[1] + match[2]) if len(match[2]) <= _INT64_DIGITS else 2**63
        if not -(2**63) < index < 2**63:
            self._report("index-range", token)
            return NOT_GIVEN
        return index

    def _report(self, kind: str, text: bytes | None = None) -> None:
        face = len(self._offsets) - 1
        self._log.add(kind, Place(self._line, face, None if text is None else Name(text)))
