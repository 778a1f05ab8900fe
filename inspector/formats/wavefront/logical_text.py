"""Convert the bytes of an OBJ file to text in which every logical line is one line.

A byte offset refers to the same position in the text and in the data, except inside a statement that is continued over
several physical lines (see `block_spans`).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import zip_longest

from inspector import _native
from inspector.formats.frame import Block, Frame
from inspector.formats.problems import Place, Problem, ProblemLog, UnreadableFrame
from inspector.formats.wavefront.statements import BLANK, BYTE_ORDER_MARK, COMMENT, KNOWN

_LONE_RETURN = re.compile(rb"\r(?!\n)")
# A backslash joins only as the last character of a line, and never in a comment: comments often end in a path.
_CONTINUED = re.compile(rb"^(?![ \t]*#)[^\n]*\\\r?\n(?:[^\n]*\\\r?\n)*[^\n]*", re.MULTILINE)
_JOINT = re.compile(rb"\\(\r?\n)")
_CAPITALS = re.compile(rb"^([ \t]*)([A-Za-z_]*[A-Z][A-Za-z_]*)(?=[ \t])", re.MULTILINE)
_JOINT_ENDS = re.compile(rb"\\(\r\n|\n|\r)")
_COMPRESSED = (b"\x1f\x8b", b"PK\x03\x04", b"BZh", b"\xfd7zXZ", b"\x28\xb5\x2f\xfd")
# System V ABI (ELF); Mach-O's loader.h, both widths and byte orders; archives of ar(5).
_OBJECT_FILES = (
    *(b"\x7fELF", b"!<arch>\n", b"\xfe\xed\xfa\xce", b"\xfe\xed\xfa\xcf"),
    *(b"\xce\xfa\xed\xfe", b"\xcf\xfa\xed\xfe"),
    b"\x00\x00\xff\xff",  # import objects, and the form of COFF that allows more than 65,279 sections
)
# COFF begins with a machine type (PE format, "Machine types": i386, x64, ARM, ARM64), and its header contains NULs.
_COFF_MACHINES = (b"\x4c\x01", b"\x64\x86", b"\xc4\x01", b"\x64\xaa")
HEAD_BYTES = 20
_SAMPLE = 64
_WIDE = {b"\xff\xfe": "utf-16-le", b"\xfe\xff": "utf-16-be"}


@dataclass(frozen=True, slots=True)
class LogicalText:
    """An OBJ file as text for the reader.

    Attributes:
        data: The file, recoded to UTF-8 if it was UTF-16.
        text: The data with uniform line endings and joined lines. It has the same length as `data`.
        encoding: The original encoding of a recoded file; None for any other file.
        problems: The problems of the file.
    """

    data: bytes
    text: bytes
    encoding: str | None
    problems: tuple[Problem, ...]


def source_text(data: bytes, *, capitals: bool = False) -> LogicalText:
    """Normalise forms that would slow down the reader: UTF-16, bare carriage returns, continued lines.

    Args:
        data: The file.
        capitals: Whether to change keywords with capital letters to lower case. This is slow, so set it only if
            `has_capitals` finds such keywords.

    Raises:
        UnreadableFrame: The file is empty or not text.
    """
    log = ProblemLog()
    encoding = _WIDE.get(data[:2]) or _wide_without_mark(data[:_SAMPLE])
    if encoding is not None:
        try:
            data = data.decode(encoding).encode("utf-8")
        except UnicodeDecodeError:
            raise UnreadableFrame("foreign") from None
        log.add("utf-16", Place(1))
    elif data.startswith(BYTE_ORDER_MARK):
        log.add("byte-order-mark", Place(1))
    special = _native.find_special(data)
    _refuse_what_is_no_text(data, special.nul)
    text = _even_line_ends(data, log) if special.carriage_return else data
    if special.backslash:
        text = _join_continued(text, log)
    if capitals:
        text = _in_lower_case(text, log)
    if special.beyond_ascii:
        _report_not_utf8(data, log)
    return LogicalText(data, text, encoding, log.problems())


def text_of(frame: Frame) -> bytes:
    """Return the text from which a frame was read."""
    capitals = any(problem.kind == "capital-statement" for problem in frame.problems)
    return source_text(frame.data, capitals=capitals).text


def has_capitals(blocks: Iterable[Block]) -> bool:
    """Return whether a known statement is written in capitals, which the format doesn't allow."""
    return any(block.keyword not in KNOWN and block.keyword.lower() in KNOWN for block in blocks)


def _in_lower_case(text: bytes, log: ProblemLog) -> bytes:
    def lowered(match: re.Match[bytes]) -> bytes:
        word = match[2].lower()
        if word not in KNOWN:
            return match[0]
        places.append(match.start())
        return match[1] + word

    places: list[int] = []
    even = _CAPITALS.sub(lowered, text)
    if places:
        log.add("capital-statement", Place(text.count(b"\n", 0, places[0]) + 1), len(places))
    return even


def block_spans(data: bytes, blocks: Sequence[Block]) -> list[tuple[int, int]]:
    """Return the position in the data of each block's first byte, and the position after the block's last byte.

    In the text, the line endings inside a continued statement are moved to the end of the statement, where they look
    like blank lines. In the data, the statement is therefore longer than in the text.

    Args:
        data: The data of the frame.
        blocks: The blocks of the frame, which refer to the text.
    """
    if b"\\" not in data:
        return [(block.start, block.stop) for block in blocks]
    spans, moved = [], 0
    for block, after in zip_longest(blocks, blocks[1:]):
        start, moved = block.start + moved, 0
        if block.keyword not in (COMMENT, BLANK) and after is not None and after.keyword == BLANK:
            moved = sum(map(len, _JOINT_ENDS.findall(data, block.start, after.stop)))
        spans.append((start, block.stop + moved))
    return spans


def _wide_without_mark(head: bytes) -> str | None:
    """Return the encoding of UTF-16 text without a byte-order mark; None for any other text."""
    low, high = head[0::2], head[1::2]
    if len(head) < 2 or (0 in low) == (0 in high):
        return None
    return "utf-16-le" if not any(high) else "utf-16-be" if not any(low) else None


def _report_not_utf8(data: bytes, log: ProblemLog) -> None:
    try:
        data.decode()
    except UnicodeDecodeError as error:
        log.add("not-utf8", Place(data.count(b"\n", 0, error.start) + 1))


def is_object_file(head: bytes) -> bool:
    """Return whether a file is a compiler's object file.

    Args:
        head: At least the first `HEAD_BYTES` bytes of the file.
    """
    return head.startswith(_OBJECT_FILES) or (head.startswith(_COFF_MACHINES) and b"\0" in head[:HEAD_BYTES])


def _refuse_what_is_no_text(data: bytes, nul_inside: bool) -> None:
    if data.startswith(_COMPRESSED):
        raise UnreadableFrame("compressed")
    if is_object_file(data):
        raise UnreadableFrame("object-file")
    if not data[:4096].strip() and not data.strip():  # strip makes a copy, so it is first called on the head alone
        raise UnreadableFrame("empty")
    if nul_inside:
        nul = data.index(b"\0")
        began_as_mesh = re.search(rb"^[ \t]*(v|vt|vn|f|o|g|usemtl|mtllib|#)[ \t]", data[:nul], re.MULTILINE)
        raise UnreadableFrame("nul-run" if began_as_mesh or nul == 0 else "foreign", data.count(b"\n", 0, nul) + 1)


def _even_line_ends(data: bytes, log: ProblemLog) -> bytes:
    returns, pairs, feeds = data.count(b"\r"), data.count(b"\r\n"), data.count(b"\n")
    text = data
    if returns > pairs:
        first = _LONE_RETURN.search(data)
        assert first is not None
        log.add("bare-returns", Place(data.count(b"\n", 0, first.start()) + 1), returns - pairs)
        text = _LONE_RETURN.sub(b"\n", data)
    kinds = sum(count > 0 for count in (returns - pairs, pairs, feeds - pairs))
    if kinds > 1:
        log.add("mixed-newlines", Place(1))
    return text


def _join_continued(text: bytes, log: ProblemLog) -> bytes:
    """Replace each backslash at the end of a line with a space, and move the line ending after the backslash to the end
    of the logical line. Comment lines don't change.

    The text keeps its length, and each logical line keeps its line number. If the text doesn't end with a line ending,
    it doesn't get one, because the missing line ending shows that the file was cut off.
    """
    unended = -1 if text.endswith(b"\n") else len(text)

    def join(match: re.Match[bytes]) -> bytes:
        run = match.group()
        ends = b"".join(_JOINT.findall(run))
        log.add("continued-line", Place(text.count(b"\n", 0, match.start()) + 1))
        if match.end() == unended:
            return _JOINT.sub(lambda joint: b" " * len(joint.group()), run)
        body = run.removesuffix(b"\r")
        return _JOINT.sub(b" ", body) + ends + run[len(body) :]

    return _CONTINUED.sub(join, text)
