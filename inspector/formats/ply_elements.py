"""Read the elements of a PLY file as columns of numbers. Source: G. Turk, "The PLY Polygon File Format", 1994."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import Any

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.formats.mesh import offsets_of
from inspector.formats.number_lines import read_lines
from inspector.formats.problems import UnreadableFrame
from inspector.names import Name

Column = npt.NDArray[Any]

# The types in the 1994 document, and the names with sizes that later writers use (common practice, no source).
_TYPES = {
    **{"char": "i1", "uchar": "u1", "short": "i2", "ushort": "u2", "int": "i4", "uint": "u4"},
    **{"float": "f4", "double": "f8"},
    **{"int8": "i1", "uint8": "u1", "int16": "i2", "uint16": "u2", "int32": "i4", "uint32": "u4"},
    **{"float32": "f4", "float64": "f8"},
}
_ORDERS = {"ascii": "", "binary_little_endian": "<", "binary_big_endian": ">"}
_END = re.compile(rb"[\r\n]end_header[ \t]*(?:\r\n|\n|\r)")


@dataclass(frozen=True, slots=True)
class Lists:
    """The values of a list property in n rows.

    Attributes:
        sizes: Length of the list in each row, (n,) int64.
        values: The values of all lists in order.
    """

    sizes: npt.NDArray[np.int64]
    values: Column


@dataclass(frozen=True, slots=True)
class _Property:
    name: str
    type: str
    count: str | None
    """Type of the length of each list; None if the property is a single number."""


@dataclass(slots=True)
class Element:
    """An element of a PLY file, such as `vertex` or `face`.

    Attributes:
        name: Name of the element.
        rows: Number of rows.
        properties: The properties, in the order of the file.
        values: The values of each property, by name: one number or one list per row.
    """

    name: str
    rows: int
    properties: list[_Property] = field(default_factory=list)
    values: dict[str, Column | Lists] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class PlyFile:
    """The content of a PLY file.

    Attributes:
        elements: All elements with their values, in the order of the file.
        comments: The comments of the header, without the word `comment`.
        extra_values: Whether rows of the text hold more values than the header announces.
    """

    elements: list[Element]
    comments: list[str]
    extra_values: bool = False


def read_elements(data: bytes) -> PlyFile:
    """Read all elements of a PLY file.

    Raises:
        UnreadableFrame: The file breaks the rules of the format, or ends too early.
    """
    end = _END.search(data)
    if end is None:
        raise UnreadableFrame("broken-form", reason="the header has no end_header line")
    lines = data[: end.start()].splitlines()
    comments = [line[8:].decode("utf-8", "replace").strip() for line in lines if line.startswith(b"comment ")]
    extra = False
    try:
        order, elements = _header(lines)
        if order == "":
            if not _read_plain_text(data, end.end(), elements):
                extra = _read_text(data[end.end() :], len(lines) + 2, elements)
        else:
            _read_binary(data, end.end(), elements, order)
    except (ValueError, OverflowError) as error:
        raise UnreadableFrame("broken-form", reason="a number in the header or the data is too large") from error
    return PlyFile(elements, comments, extra)


def _header(lines: list[bytes]) -> tuple[str, list[Element]]:
    """Parse the header.

    Returns:
        The byte order ("" for ASCII), and the announced elements, without values.

    Raises:
        UnreadableFrame: A header line is not valid, or the format line is missing.
    """
    order: str | None = None
    elements: list[Element] = []
    for number, line in enumerate(lines, 1):
        words = line.decode("ascii", "replace").split()
        match words:
            case ["format", form, _] if form in _ORDERS:
                order = _ORDERS[form]
            case ["element", name, count] if count.isdecimal():
                elements.append(Element(name, int(count)))
            case ["property", "list", count, kind, name] if elements and count in _TYPES and kind in _TYPES:
                elements[-1].properties.append(_Property(name, _TYPES[kind], _TYPES[count]))
            case ["property", kind, name] if elements and kind in _TYPES:
                elements[-1].properties.append(_Property(name, _TYPES[kind], None))
            case ["ply"] | ["comment" | "obj_info", *_] | []:
                pass
            case _:
                raise UnreadableFrame("broken-form", number, "the format does not define this header line")
    if order is None:
        raise UnreadableFrame("broken-form", reason="the header has no format line")
    return order, elements


def _read_plain_text(text: bytes, at: int, elements: list[Element]) -> bool:
    """Fill the elements from text in which each row is a line, and all lists of a property have equal lengths.

    Returns:
        False if the text doesn't have this form; the values in the elements are then meaningless.
    """
    for element in elements:
        found = read_lines(text, at, element.rows) if element.rows else (np.zeros((0, 0)), at)
        if found is None or not _columns(found[0], element):
            return False
        at = found[1]
    return not text[at:].strip()


def _columns(table: Floats, element: Element) -> bool:
    """Fill an element from a table of its rows. Return whether the rows fit its properties."""
    column = 0
    for one in element.properties:
        size = 1
        if one.count is not None:
            size = int(table[0, column]) if len(table) and column < table.shape[1] else 0
            if (table[:, column : column + 1] != size).any() or size < 0:
                return False
            column += 1
        try:
            values = _as_type(table[:, column : column + size], one.type)
        except OverflowError:
            return False
        if one.count is None:
            element.values[one.name] = values.reshape(-1)
        else:
            element.values[one.name] = Lists(np.full(len(table), size, np.int64), values.reshape(-1))
        column += size
    return not len(table) or column == table.shape[1]


def _as_type(values: Floats, kind: str) -> Column:
    """Convert numbers to the type of their property.

    Raises:
        OverflowError: A number doesn't fit the type.
    """
    if kind[0] != "f":
        bounds = np.iinfo(kind)
        if not ((values >= bounds.min) & (values <= bounds.max) & (values == np.floor(values))).all():
            raise OverflowError
    with np.errstate(over="ignore"):  # infinity, which a check of the positions reports
        return values.astype(kind)


def _read_text(text: bytes, first_line: int, elements: list[Element]) -> bool:
    """Fill the elements from text.

    The 1994 document requires one row per line. If the number of words is exactly right, line breaks are ignored;
    otherwise, each line is read as one row.

    Returns:
        Whether rows hold more values than the header announces.

    Raises:
        UnreadableFrame: There are too few or too many values, a word is not a number, or a number doesn't fit its type.
    """
    words = text.split()
    try:
        if _read_words(words, elements) == len(words):
            return False
    except (ValueError, OverflowError, UnreadableFrame) as error:
        trouble: Exception | None = error
    else:
        trouble = None
    lines = [(number, row) for number, line in enumerate(text.splitlines(), first_line) if (row := line.split())]
    if len(lines) == sum(element.rows for element in elements):
        return _read_rows(lines, elements)
    if isinstance(trouble, UnreadableFrame):
        raise trouble
    if trouble is None or len(lines) > sum(element.rows for element in elements):
        raise UnreadableFrame("broken-form", reason="the file has more values than the header announces")
    raise UnreadableFrame("broken-form", *_odd_word(lines))


def _odd_row(lines: list[tuple[int, list[bytes]]], element: Element) -> tuple[int, str]:
    """Find the first unreadable row of an element; there must be at least one.

    Args:
        lines: Line number and words of each row.
        element: The element.

    Returns:
        The line number, and the reason.
    """
    low, high = 0, len(lines)
    while high - low > 1:
        middle = (low + high) // 2
        rows = [row[: _row_length(row, element, number)] for number, row in lines[low:middle]]
        try:
            _read_words(list(chain.from_iterable(rows)), [replace(element, rows=len(rows), values={})])
            low = middle
        except (ValueError, OverflowError):
            high = middle
    return _odd_word(lines[low:high])


def _odd_word(lines: list[tuple[int, list[bytes]]]) -> tuple[int, str]:
    """Find the first word that is not a number or, if all are numbers, state that a number doesn't fit its type.

    Returns:
        The line number, and a description. If every word is a number, the line number is that of the only line, or 0 if
        there are several lines.
    """
    for number, row in lines:
        for word in row:
            try:
                float(word)
            except ValueError:
                return number, f"`{Name(word[:40]).display}` is not a number"
    return (lines[0][0] if len(lines) == 1 else 0), "a number doesn't fit the type that the header declares for it"


def _read_rows(lines: list[tuple[int, list[bytes]]], elements: list[Element]) -> bool:
    """Fill the elements from text with one row per line.

    Returns:
        Whether rows hold more values than the header announces.

    Raises:
        UnreadableFrame: A line has too few values, an invalid list length, a word that is not a number, or a number
            that doesn't fit its type.
    """
    extra, at = False, 0
    for element in elements:
        needed: list[bytes] = []
        for number, row in lines[at : at + element.rows]:
            size = _row_length(row, element, number)
            extra |= size < len(row)
            needed += row[:size]
        try:
            _read_words(needed, [element])
        except (ValueError, OverflowError) as error:
            raise UnreadableFrame("broken-form", *_odd_row(lines[at : at + element.rows], element)) from error
        at += element.rows
    return extra


def _row_length(row: list[bytes], element: Element, line: int) -> int:
    """Count the words of a line that belong to the element's properties.

    Raises:
        UnreadableFrame: The line has too few words, or the length of a list is negative or not a whole number.
    """
    size = 0
    for one in element.properties:
        if one.count is not None:
            if size < len(row) and not row[size].isdigit():
                raise UnreadableFrame(
                    "broken-form", line, f"`{Name(row[size][:40]).display}` is not a valid list length"
                )
            size += int(row[size]) if size < len(row) else 0
        size += 1
    if size > len(row):
        raise UnreadableFrame("broken-form", line, "the row has fewer values than its element needs")
    return size


def _read_words(words: list[bytes], elements: list[Element]) -> int:
    """Fill the elements word by word, regardless of line breaks. Return the number of words that were read.

    Raises:
        UnreadableFrame: There are too few words, or the length of a list is negative.
        ValueError, OverflowError: A word is not a number, or a number doesn't fit the type of its property.
    """
    at = 0
    for element in elements:
        if all(one.count is None for one in element.properties):
            stop = at + element.rows * len(element.properties)
            if stop > len(words):
                raise UnreadableFrame("too-short")
            table = np.array(words[at:stop], np.float64).reshape(element.rows, len(element.properties))
            for column, one in zip(table.T, element.properties, strict=True):
                element.values[one.name] = _as_type(column, one.type)
            at = stop
        else:
            at = _words_of_lists(words, at, element)
    return at


def _words_of_lists(words: list[bytes], at: int, element: Element) -> int:
    """Starting at word `at`, read an element that has lists. Return the index of the first word after the element.

    Raises:
        UnreadableFrame: There are too few words, or the length of a list is negative.
        ValueError, OverflowError: A word is not a number, or a number doesn't fit the type of its property.
    """
    cells: list[list[bytes]] = [[] for _ in element.properties]
    sizes: list[list[int]] = [[] for _ in element.properties]
    for _ in range(element.rows):
        for number, one in enumerate(element.properties):
            size = 1
            if one.count is not None:
                if at >= len(words):
                    raise UnreadableFrame("too-short")
                size, at = int(words[at]), at + 1
                sizes[number].append(size)
            if size < 0 or at + size > len(words):
                raise UnreadableFrame("too-short")
            cells[number] += words[at : at + size]
            at += size
    for one, cell, size_list in zip(element.properties, cells, sizes, strict=True):
        values = _as_type(np.array(cell, np.float64), one.type)
        element.values[one.name] = values if one.count is None else Lists(np.array(size_list, np.int64), values)
    return at


def _read_binary(data: bytes, at: int, elements: list[Element], order: str) -> None:
    for element in elements:
        at = _equal_rows(data, at, element, order) or _uneven_rows(data, at, element, order)


def _equal_rows(data: bytes, at: int, element: Element, order: str) -> int | None:
    """Fill an element by reading all rows together, if all lists are as long as the lists of the first row.

    Returns:
        The position of the first byte after the rows; None if the lists of any other row differ in length from those of
        the first row, or if the data is too short for rows as long as the first row. If the result is None, the element
        is unchanged.

    Raises:
        UnreadableFrame: The data ends within the first row or within an element without lists, or the length of a list
            in the first row is negative or not a whole number.
    """
    fields: list[tuple[Any, ...]] = []
    first = at
    for number, one in enumerate(element.properties):
        if one.count is not None:
            size = _number(data, first, order + one.count) if element.rows else 0
            fields.append((f"n{number}", order + one.count))
            fields.append((f"p{number}", order + one.type, (size,)))
            first += np.dtype(one.count).itemsize + size * np.dtype(one.type).itemsize
        else:
            fields.append((f"p{number}", order + one.type))
            first += np.dtype(one.type).itemsize
    row = np.dtype(fields)
    stop = at + element.rows * row.itemsize
    lists = [number for number, one in enumerate(element.properties) if one.count is not None]
    if stop > len(data):
        if lists:
            return None
        raise UnreadableFrame("too-short")
    table = np.frombuffer(data, row, element.rows, at) if element.rows and row.itemsize else np.zeros(0, row)
    if any((table[f"n{number}"] != table[f"n{number}"][:1]).any() for number in lists):
        return None
    for number, one in enumerate(element.properties):
        column = _native(table[f"p{number}"])
        if one.count is None:
            element.values[one.name] = column
        else:
            element.values[one.name] = Lists(np.full(element.rows, column.shape[1], np.int64), column.reshape(-1))
    return stop


def _uneven_rows(data: bytes, at: int, element: Element, order: str) -> int:
    """Fill an element row by row, because its lists have different lengths. Return the position of the first byte
    after the rows.

    Raises:
        UnreadableFrame: The data ends within the element, or the length of a list is negative or not a whole number.
    """
    starts: list[list[int]] = [[] for _ in element.properties]
    sizes: list[list[int]] = [[] for _ in element.properties]
    shapes = [
        (number, one.count and order + one.count, np.dtype(one.count or "u1").itemsize, np.dtype(one.type).itemsize)
        for number, one in enumerate(element.properties)
    ]
    for _ in range(element.rows):
        for number, count, count_width, width in shapes:
            size = 1
            if count is not None:
                size, at = _number(data, at, count), at + count_width
            starts[number].append(at)
            sizes[number].append(size)
            at += size * width
    if at > len(data):
        raise UnreadableFrame("too-short")
    for number, one in enumerate(element.properties):
        counts = np.array(sizes[number], np.int64)
        values = _gathered(data, np.array(starts[number], np.int64), counts, np.dtype(order + one.type))
        element.values[one.name] = values if one.count is None else Lists(counts, values)
    return at


def _number(data: bytes, at: int, kind: str) -> int:
    width = np.dtype(kind).itemsize
    if at + width > len(data):
        raise UnreadableFrame("too-short")
    value = int.from_bytes(data[at : at + width], "big" if kind[0] == ">" else "little", signed=kind[1] == "i")
    if kind[1] == "f" or value < 0:
        raise UnreadableFrame("broken-form", reason="the length of a list is negative or not a whole number")
    return value


def _gathered(data: bytes, starts: npt.NDArray[np.int64], counts: npt.NDArray[np.int64], kind: np.dtype[Any]) -> Column:
    """Read runs of consecutive values from several locations in the data.

    Args:
        data: The bytes of the file.
        starts: First byte of each run, (n,).
        counts: Number of values in each run, (n,).
        kind: Type of the values, including their byte order.

    Returns:
        The values of all runs in order, in native byte order.
    """
    within = np.arange(int(counts.sum())) - np.repeat(offsets_of(counts)[:-1], counts)
    places = np.repeat(starts, counts) + within * kind.itemsize
    octets = np.frombuffer(data, np.uint8)[places[:, None] + np.arange(kind.itemsize)]
    return _native(np.ascontiguousarray(octets).view(kind).reshape(-1))


def _native(column: Column) -> Column:
    return column.astype(column.dtype.newbyteorder("="))
