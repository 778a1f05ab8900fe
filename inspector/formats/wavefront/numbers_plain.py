"""Read numbers of any form, line by line. This is slow, but everything irregular is reported as a problem."""

from __future__ import annotations

import math
import re

import numpy as np

from inspector.formats.problems import Place, ProblemLog
from inspector.formats.wavefront.number_table import NumberTable
from inspector.names import Name

MOST_DECIMALS = 20
"""Maximum number of decimal places that are counted."""

_NUMBER = re.compile(rb"[+-]?(?:[0-9]+(?:\.([0-9]*))?|\.([0-9]+))(?:[eE]([+-]?[0-9]+))?")
_DECIMAL_COMMA = re.compile(rb"[+-]?[0-9]*,[0-9]+(?:[eE][+-]?[0-9]+)?")
# One C library writes `1.#IND`, `1.#QNAN` and `1.#INF` for values that are not finite; any other # begins a comment.
_COMMENT = re.compile(rb"(?<!1\.)#|#(?!IND|INF|QNAN|SNAN)")
_BLANKS = re.compile(rb"[ \t\r]+")


def read_lines(text: bytes, least: int, most: int) -> NumberTable:
    """Read lines of numbers of any form. Each line begins with the keyword; blank lines are ignored.

    Args:
        text: The lines.
        least: Minimum count of numbers in a statement.
        most: Maximum count of numbers in a statement. Further numbers are dropped, and count as bad numbers.
    """
    return _NumberLines(least, most).read(text)


class _NumberLines:
    def __init__(self, least: int, most: int) -> None:
        self._least, self._most = least, most
        self._rows: list[list[float]] = []
        self._decimals = 0
        self._log = ProblemLog()

    def read(self, text: bytes) -> NumberTable:
        lines = text.removesuffix(b"\n").split(b"\n") if text else []
        for number, line in enumerate(lines):
            stripped = line.strip(b" \t\r")
            if stripped:
                self._read_line(stripped, number)
        rows = self._rows
        given = np.fromiter(map(len, rows), np.uint8, len(rows))
        width = max(self._least, int(given.max(initial=0)))
        missing = [math.nan] * width
        values = np.array([row + missing[len(row) :] for row in rows], np.float64).reshape(len(rows), width)
        values.flags.writeable = False
        even = bool((given == width).all())
        problems = self._log.problems()
        plain = even and not problems and len(rows) == len(lines)
        return NumberTable(values, None if even else given, self._decimals, plain, problems)

    def _read_line(self, line: bytes, number: int) -> None:
        row = len(self._rows)
        comment = _COMMENT.search(line)
        if comment:
            self._log.add("trailing-comment", Place(number, row, Name(line[comment.start() :])))
            line = line[: comment.start()].rstrip(b" \t\r")
        tokens = _BLANKS.split(line, self._most + 1)[1:]
        if len(tokens) > self._most:
            extra = tokens[self._most]
            first = _BLANKS.split(extra, 1)[0]
            self._log.add("bad-number", Place(number, row, Name(first)), 1 + sum(1 for _ in _BLANKS.finditer(extra)))
        numbers = [self._value(token, number, row) for token in tokens[: self._most]]
        if len(numbers) < self._least:
            self._log.add("few-numbers", Place(number, row))
        self._rows.append(numbers)

    def _value(self, token: bytes, line: int, row: int) -> float:
        match = _NUMBER.fullmatch(token)
        value = float(token) if match else math.inf
        if not match or math.isinf(value):
            kind = "decimal-comma" if _DECIMAL_COMMA.fullmatch(token) else "bad-number"
            self._log.add(kind, Place(line, row, Name(token)))
            return math.nan
        behind = len(match[1] or match[2] or b"") - float(match[3] or 0)
        self._decimals = max(self._decimals, int(min(behind, MOST_DECIMALS)))
        return value
