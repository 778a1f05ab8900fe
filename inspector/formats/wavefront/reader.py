"""Read the bytes of an OBJ file as a frame. Arrays that equal those of the previous frame are shared with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from inspector import _native
from inspector.formats.frame import Block, FaceRun, Frame, LibraryLine
from inspector.formats.problems import Place, ProblemLog, UnreadableFrame
from inspector.formats.wavefront import statements
from inspector.formats.wavefront.assemble import (
    GatheredFaces,
    gather_colours,
    gather_corners,
    gather_numbers,
)
from inspector.formats.wavefront.blocks import keyword_at, split_blocks
from inspector.formats.wavefront.indices import FaceTable, read_faces
from inspector.formats.wavefront.logical_text import LogicalText, has_capitals, source_text
from inspector.formats.wavefront.numbers import NumberTable, read_numbers, read_run
from inspector.formats.wavefront.pieces import SMALL, LongLine
from inspector.names import Name

Table = NumberTable | FaceTable | None


@dataclass(slots=True)
class _LastFrame:
    text: bytes = b""
    blocks: Sequence[Block] = ()
    tables: Sequence[Table] = ()
    faces: GatheredFaces | None = None
    frame: Frame | None = None


@dataclass(slots=True)
class ObjReader:
    """Reads the frames of one sequence, one after the other. The order affects only the speed, not the result."""

    _last: _LastFrame = field(default_factory=_LastFrame)

    def fork(self) -> ObjReader:
        """Make a second reader that shares the last frame read; the two can run in separate threads."""
        return ObjReader(self._last)

    @classmethod
    def after(cls, frame: Frame) -> ObjReader:
        """Make a reader that continues after the given frame. Arrays of the next frame that equal those of the given
        frame are shared by both frames.
        """
        return cls(_LastFrame(faces=GatheredFaces((), frame.corners, ()), frame=frame))

    @property
    def last(self) -> Frame | None:
        """The last frame read; None if there is none."""
        return self._last.frame

    def read(self, data: bytes) -> Frame:
        """Read a frame from the bytes of its file.

        Raises:
            UnreadableFrame: The file as a whole can't be read as a frame.
        """
        source = source_text(data)
        last = self._last
        runs = _Runs(source.text)
        blocks, equals = split_blocks(source.text, last.text, last.blocks, runs.find)
        if has_capitals(blocks):
            source = source_text(data, capitals=True)
            runs = _Runs(source.text)
            blocks, equals = split_blocks(source.text, last.text, last.blocks, runs.find)
        tables = [
            last.tables[equal] if equal is not None else runs.tables.get(block.start) or _table(source.text, block)
            for block, equal in zip(blocks, equals, strict=True)
        ]
        frame, faces = _assemble(source, blocks, tables, last)
        _refuse_what_is_no_frame(source.text, frame)
        self._last = _LastFrame(source.text, blocks, tables, faces, frame)
        return frame


def read_frame(data: bytes) -> Frame:
    """Read a single frame.

    Raises:
        UnreadableFrame: The file as a whole can't be read as a frame.
    """
    return ObjReader().read(data)


@dataclass(frozen=True, slots=True)
class _Runs:
    """Finds the ends of blocks of numbers by reading the numbers, so that the text is not searched first.

    Attributes:
        text: The text.
        tables: The numbers, by the byte at which their block begins.
    """

    text: bytes
    tables: dict[int, NumberTable] = field(default_factory=dict)

    def find(self, start: int, old: Block) -> tuple[int, int] | None:
        """Find the end of a block by reading its numbers.

        Args:
            start: The byte at which the block begins.
            old: The corresponding block of the previous frame, which has the same keyword.

        Returns:
            The byte after the block, and its number of lines. None if the native core is missing, if the block is small
            or holds no numbers, if a line is irregular, or if there are many more lines than in the previous frame.
        """
        bounds = statements.NUMBER_STATEMENTS.get(old.keyword)
        if not _native.active or bounds is None or old.stop - old.start < SMALL:
            return None
        run = read_run(self.text, start, old.keyword, bounds, old.lines + old.lines // 4 + 1)
        if run is None or run.stop - start < SMALL:
            return None
        if run.stop < len(self.text) and keyword_at(self.text, run.stop) == old.keyword:
            return None
        self.tables[start] = run.table
        return run.stop, len(run.table.values)


def _table(text: bytes, block: Block) -> Table:
    bounds = statements.NUMBER_STATEMENTS.get(block.keyword)
    span = memoryview(text)[block.start : block.stop]
    try:
        if bounds is not None:
            return read_numbers(span, block.keyword, *bounds)
        if block.keyword in statements.FACE_STATEMENTS:
            return read_faces(span, block.keyword)
    except LongLine as error:
        raise UnreadableFrame("long-line", block.first_line + error.line) from None
    return None


def _assemble(
    source: LogicalText, blocks: list[Block], tables: list[Table], last: _LastFrame
) -> tuple[Frame, GatheredFaces]:
    log = ProblemLog()
    log.merge(source.problems)
    _report_statements(source.text, blocks, log)
    before = last.frame
    positions, v_decimals = gather_numbers(blocks, tables, b"v", before.positions if before else None, log)
    uvs, vt_decimals = gather_numbers(blocks, tables, b"vt", before.uvs if before else None, log)
    normals, vn_decimals = gather_numbers(blocks, tables, b"vn", before.normals if before else None, log)
    faces = gather_corners(blocks, tables, (len(positions), len(uvs), len(normals)), last.faces)
    log.merge(faces.problems)
    runs, libraries = states_of(source.text, blocks, tables)
    frame = Frame(
        data=source.data,
        blocks=tuple(blocks),
        positions=positions,
        uvs=uvs,
        normals=normals,
        corners=faces.corners,
        runs=runs,
        libraries=libraries,
        problems=log.problems(),
        encoding=source.encoding,
        source_decimals={b"v": v_decimals, b"vt": vt_decimals, b"vn": vn_decimals},
        colours=gather_colours(blocks, tables, before.colours if before else None),
    )
    return frame, faces


def rest_of_line(line: bytes, keyword: bytes) -> Name:
    """Return the text after the keyword of a line, without white space at its ends. Names may contain spaces
    and `#`.
    """
    return Name(line.lstrip(b" \t")[len(keyword) :].strip(b" \t\r\n"))


def states_of(
    text: bytes, blocks: Sequence[Block], tables: Sequence[Table]
) -> tuple[tuple[FaceRun, ...], tuple[LibraryLine, ...]]:
    """Find the faces of each block, with the names that apply to them, and all `mtllib` lines.

    Args:
        text: The text.
        blocks: The blocks of the text.
        tables: The table of each block; None for blocks without one.
    """
    state: dict[bytes, Name] = {}
    runs: list[FaceRun] = []
    libraries: list[LibraryLine] = []
    face = 0
    for number, (block, table) in enumerate(zip(blocks, tables, strict=True)):
        if isinstance(table, FaceTable):
            stop = face + len(table.offsets) - 1
            runs.append(
                FaceRun(
                    face,
                    stop,
                    number,
                    material=state.get(b"usemtl"),
                    group=state.get(b"g"),
                    object=state.get(b"o"),
                    smoothing=state.get(b"s"),
                )
            )
            face = stop
        elif block.keyword in statements.STATE_STATEMENTS:
            last_line = text[block.start : block.stop].rstrip(b"\r\n").rpartition(b"\n")[2]
            state[block.keyword] = rest_of_line(last_line, block.keyword)
        elif block.keyword == b"mtllib":
            lines = text[block.start : block.stop].split(b"\n")[: block.lines]
            libraries += [
                LibraryLine(rest_of_line(line, b"mtllib"), block.first_line + offset)
                for offset, line in enumerate(lines)
            ]
    return tuple(runs), tuple(libraries)


def _report_statements(text: bytes, blocks: list[Block], log: ProblemLog) -> None:
    """Report the statements that other readers drop, misread or execute."""
    for block in blocks:
        keyword = block.keyword
        place = Place(block.first_line, None, Name(keyword[:40]))
        if keyword in statements.ACTING_STATEMENTS:
            log.add("executable-statement", place, block.lines)
        elif keyword in statements.NAMES_A_FILE:
            named = rest_of_line(text[block.start : block.stop].partition(b"\n")[0], keyword)
            words = Name(b"the file `%b`, named by `%b`" % (named.raw[:200], keyword))
            log.add("left-out", Place(block.first_line, None, words), block.lines)
        elif keyword in statements.NOT_POLYGONAL:
            log.add("not-polygonal", place, block.lines)
        elif keyword in statements.FREE_FORM:
            log.add("free-form", place, block.lines)
        elif keyword in statements.SUPERSEDED:
            log.add("deprecated-statement", place, block.lines)
        elif keyword not in statements.KNOWN:
            log.add("unknown-statement", place, block.lines)
    if not text.endswith(b"\n"):
        log.add("no-final-newline", Place(blocks[-1].first_line + blocks[-1].lines - 1))


def _refuse_what_is_no_frame(text: bytes, frame: Frame) -> None:
    """Check that a file is a complete mesh or an empty frame.

    An empty frame has comments or statements, but neither vertices nor faces.

    Raises:
        UnreadableFrame: More lines have unknown statements than known statements, the file ends in the middle of a
            line, there are faces but no vertices, or there are neither statements nor comments.
    """
    known = sum(block.lines for block in frame.blocks if block.keyword in statements.KNOWN - {b"", b"#"})
    unknown = sum(problem.count for problem in frame.problems if problem.kind == "unknown-statement")
    if unknown > known:
        raise UnreadableFrame("foreign")
    if not text.endswith(b"\n") and _ends_mid_line(text, frame):
        last = frame.blocks[-1]
        raise UnreadableFrame("cut-off", last.first_line + last.lines - 1)
    if not len(frame.positions) and (frame.faces or (not known and b"#" not in text)):
        raise UnreadableFrame("no-mesh")


def _ends_mid_line(text: bytes, frame: Frame) -> bool:
    """Return whether the last line, which has no line ending, seems to be cut off.

    This is the case if its keyword, a number or a corner seems incomplete, or if it has fewer words than its statement
    needs or than the previous line has.
    """
    last = frame.blocks[-1]
    line = text[text.rfind(b"\n") + 1 :]
    words = line.split()
    if last.keyword not in statements.KNOWN:
        return any(known.startswith(last.keyword) for known in statements.KNOWN)
    if last.keyword in statements.NUMBER_STATEMENTS:
        before = text[: text.rfind(b"\n")].rpartition(b"\n")[2].split()
        if last.lines < 2 or not before:
            return len(words) <= statements.NUMBER_STATEMENTS[last.keyword][0]
        decimals = [len(word.partition(b".")[2]) for word in (before[-1], words[-1])]
        return len(words) < len(before) or (decimals[1] < decimals[0] and _fixed(text, last, decimals[0]))
    if last.keyword in statements.FACE_STATEMENTS:
        alike = all(word.endswith(b"/") for word in words[1:])  # `7/7/` is how the writer ends every corner
        cut = words[-1].endswith((b"/", b"-")) and not alike
        return len(words) < 4 or cut or words[-1].count(b"/") != words[1].count(b"/")
    return False


def _fixed(text: bytes, block: Block, decimals: int) -> bool:
    """Return whether the lines before a block's last line end in numbers with `decimals` decimal places. Only the last
    11 of these lines are examined.
    """
    lines = text[block.start : block.stop].splitlines()[-12:-1]
    return all(len(line.split()[-1].partition(b".")[2]) == decimals for line in lines if line.split())
