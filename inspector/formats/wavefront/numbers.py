"""Read the numbers of a block of `v`, `vt` or `vn` lines. Each number has the value that Python's float() returns.

Consecutive lines that all have the same count of finite numbers are read by the native core or, without it, by two fast
readers. All other lines are read one by one, and their problems are recorded.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from inspector import _native
from inspector.formats.wavefront.number_table import NumberTable, join_tables
from inspector.formats.wavefront.numbers_fixed import FixedForm
from inspector.formats.wavefront.numbers_general import read_general
from inspector.formats.wavefront.numbers_plain import MOST_DECIMALS, read_lines
from inspector.formats.wavefront.pieces import SMALL, Span, first_line, read_pieces, read_runs

__all__ = ["NumberTable", "Run", "read_numbers", "read_run"]


def read_numbers(text: Span, keyword: bytes, least: int, most: int) -> NumberTable:
    r"""Read consecutive lines of numbers. Each line ends in \n or \r\n; the last line need not have a line ending.

    Blank lines are ignored. Problem kinds: bad-number (including surplus numbers), decimal-comma, few-numbers,
    trailing-comment.

    Args:
        text: The lines.
        keyword: First word of each line, after optional white space.
        least: Minimum count of numbers in a statement.
        most: Maximum count of numbers in a statement. Further numbers are dropped and reported.

    Raises:
        LongLine: A line is longer than LINE_BYTES.
    """
    if len(text) < SMALL:
        return read_lines(bytes(text), least, most)
    if _native.active:
        return join_tables(_native_runs(text, keyword, least, most))
    text = bytes(text)
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


@dataclass(frozen=True, slots=True, eq=False)
class Run:
    """Consecutive lines with the same count of finite numbers.

    Attributes:
        table: The numbers.
        stop: The byte after the last line.
    """

    table: NumberTable
    stop: int


def read_run(text: Span, start: int, keyword: bytes, bounds: tuple[int, int], lines: int) -> Run | None:
    """Read consecutive lines with the native core. The end of the lines need not be known.

    Args:
        text: The text.
        start: Byte at which the first line begins.
        keyword: First word of each line.
        bounds: Minimum and maximum count of numbers in a statement.
        lines: Maximum number of lines to read.

    Returns:
        The run; None if the native core can't read the first line, or if the first line's count of numbers is outside
        the bounds.
    """
    columns = len(first_line(text, start).split()) - 1
    if not bounds[0] <= columns <= bounds[1]:
        return None
    run = _native.read_numbers(text, start, keyword, columns, lines)
    if not len(run.values):
        return None
    run.values.flags.writeable = False
    return Run(NumberTable(run.values, None, min(run.decimals, MOST_DECIMALS), plain=True), run.stop)


def _native_runs(text: Span, keyword: bytes, least: int, most: int) -> Iterator[tuple[NumberTable, int]]:
    lines, _ = _native.core.count_bytes(text, 0)

    def fast(start: int) -> tuple[NumberTable | None, int, int]:
        run = read_run(text, start, keyword, (least, most), lines + 1)
        return (None, 0, start) if run is None else (run.table, len(run.table.values), run.stop)

    return read_runs(text, fast, lambda piece: read_lines(piece, least, most))
