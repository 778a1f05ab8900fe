"""The numbers of a block of `v`, `vt` or `vn` lines: exactly what Python's float() gives, and fast."""

from __future__ import annotations

from inspector.formats.wavefront.number_table import NumberTable
from inspector.formats.wavefront.numbers_general import read_lines

__all__ = ["NumberTable", "read_numbers"]


def read_numbers(text: bytes, keyword: bytes, least: int, most: int) -> NumberTable:
    """The table of `text`: consecutive lines that begin, after optional blanks, with `keyword`.

    Lines end in \\n or \\r\\n, the last may lack it; blank lines are no statements. A statement has `least` to
    `most` numbers. Problem kinds: bad-number, decimal-comma, few-numbers, comment-behind-data.
    """
    return read_lines(text, least, most)
