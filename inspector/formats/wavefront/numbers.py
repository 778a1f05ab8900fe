"""The numbers of a block of `v`, `vt` or `vn` lines: exactly what Python's float() gives, and fast.

Three ways to read a piece, each one taken where those before it don't fit: all numbers of one fixed form; any
finite numbers, the same count in each line; line by line, which also says what is wrong.
"""

from __future__ import annotations

from inspector.formats.wavefront.number_table import NumberTable, join_tables
from inspector.formats.wavefront.numbers_fixed import FixedForm
from inspector.formats.wavefront.numbers_general import read_general
from inspector.formats.wavefront.numbers_plain import MOST_DECIMALS, read_lines
from inspector.formats.wavefront.pieces import SMALL, read_pieces

__all__ = ["NumberTable", "read_numbers"]


def read_numbers(text: bytes, keyword: bytes, least: int, most: int) -> NumberTable:
    """The table of `text`: consecutive lines that begin, after optional blanks, with `keyword`.

    Lines end in \\n or \\r\\n, the last may lack it; blank lines are no statements. A statement has `least` to
    `most` numbers; more are dropped and reported. Problem kinds: bad-number (also for a number too many),
    decimal-comma, few-numbers, comment-behind-data.
    """
    if len(text) < SMALL:
        return read_lines(text, least, most)
    first = text[: text.find(b"\n") + 1]
    form = FixedForm.of_line(first, keyword) if len(first) < SMALL else None

    def fast(piece: bytes) -> NumberTable | None:
        values = form.read(piece) if form else None
        found = read_general(piece, keyword) if form is None or values is None else (values, form.decimals)
        if found is None or not least <= found[0].shape[1] <= most:
            return None
        values, decimals = found
        values.flags.writeable = False
        return NumberTable(values, None, min(decimals, MOST_DECIMALS), plain=True)

    return join_tables(read_pieces(text, fast, lambda piece: read_lines(piece, least, most)))
