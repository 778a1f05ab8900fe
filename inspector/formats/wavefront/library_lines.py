"""Split a material library into statements, and find their positions."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from inspector.formats.problems import Place, ProblemLog
from inspector.formats.wavefront.statements import BYTE_ORDER_MARK

LINE = re.compile(rb"([^\r\n]*)(\r\n|\n|\r|\Z)")
_STATEMENT = re.compile(rb"[ \t\x0b\x0c]*([^ \t\x0b\x0c]+)[ \t\x0b\x0c]*")
_CONTINUED = re.compile(rb"^(?![ \t]*#)[^\r\n]*\\(?:\r\n|\n|\r)(?:[^\r\n]*\\(?:\r\n|\n|\r))*", re.MULTILINE)
_END = re.compile(rb"\r\n|\n|\r")
_JOINT = re.compile(rb"\\(\r\n|\n|\r)")
_WIDE = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}


@dataclass(frozen=True, slots=True)
class Statement:
    """A line that is neither blank nor a comment.

    Attributes:
        line: Line number, from 1.
        line_start: Position of the line's first byte in the data.
        written: The keyword as written.
        keyword: The keyword in lower case.
        rest: The text after the keyword, without white space at the ends.
        rest_start: Position of the first byte of `rest` in the data.
    """

    line: int
    line_start: int
    written: bytes
    keyword: bytes
    rest: bytes
    rest_start: int


def decoded(data: bytes, log: ProblemLog) -> bytes:
    """Recode a library to UTF-8 if it is UTF-16, and add any problems in its text to the log."""
    encoding = _WIDE.get(data[:2])
    if encoding is not None:
        data = data[2:].decode(encoding, "replace").encode("utf-8")
        log.add("utf-16", Place(1))
    elif data.startswith(BYTE_ORDER_MARK):
        log.add("byte-order-mark", Place(1))
    if b"\0" in data:
        log.add("nul-run", Place(data.count(b"\n", 0, data.index(b"\0")) + 1))
    if not data.strip():
        log.add("empty", Place(1))
    return data


def joined(data: bytes) -> bytes:
    """Join continued lines: the backslash and the line ending after it become spaces, so all other bytes keep their
    positions.
    """
    if b"\\\n" not in data and b"\\\r" not in data:
        return data
    return _CONTINUED.sub(lambda match: _JOINT.sub(_blanked, match.group()), data)


def _blanked(match: re.Match[bytes]) -> bytes:
    return b" " * len(match.group())


def statements_of(
    data: bytes, start: int = 0, stop: int | None = None, first_line: int = 1, text: bytes | None = None
) -> Iterator[Statement]:
    r"""Yield the statements of a library, or of a part of it, in order.

    Lines end only at \r and \n, and words only at ASCII white space. A continued statement has the number of its first
    line.

    Args:
        data: Content of the library.
        start: Position of the part's first byte.
        stop: Position after the part; None for the end of the library.
        first_line: Number of the line that begins at `start`.
        text: The result of `joined(data)`, if the caller has it.
    """
    begin = len(BYTE_ORDER_MARK) if not start and data.startswith(BYTE_ORDER_MARK) else start
    text = joined(data) if text is None else text
    after = first_line
    for match in LINE.finditer(text, begin, len(text) if stop is None else stop):
        line, after = after, after + 1
        if text is not data:
            after += len(_END.findall(data, *match.span())) - len(_END.findall(text, *match.span()))
        found = _STATEMENT.match(match[1])
        if found is not None and not found[1].startswith(b"#"):
            rest = match[1][found.end() :].rstrip()
            rest_start = match.start() + found.end()
            yield Statement(line, match.start(), found[1], found[1].lower(), rest, rest_start)
