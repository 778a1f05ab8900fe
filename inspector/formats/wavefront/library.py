"""Read material libraries (MTL): the materials and their maps. No byte of a library is lost."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

from inspector.errors import MeshqcError, Refusal
from inspector.formats.problems import Place, Problem, ProblemLog
from inspector.formats.wavefront.library_lines import LINE, Statement, decoded, joined, statements_of
from inspector.formats.wavefront.map_options import (
    AfterName,
    is_number,
    names_a_file,
    split_after,
    split_options,
)
from inspector.formats.wavefront.statements import BYTE_ORDER_MARK
from inspector.names import Name


@dataclass(frozen=True, slots=True)
class MapLine:
    """A statement that assigns a map to a material.

    Attributes:
        material: Name of the material; empty before the first `newmtl`.
        statement: The keyword as written.
        options: The options before the name, word by word.
        name: The file name.
        line: Line number, from 1.
        line_start: First byte of the line in the library's data, after any byte-order mark.
        start: First byte of the name in the library's data.
        stop: The byte after the last byte of the name.
        after: The text after the name on the line.
        end: The byte after the last byte of the statement, which includes `after`.
    """

    material: Name
    statement: Name
    options: tuple[bytes, ...]
    name: Name
    line: int
    line_start: int
    start: int
    stop: int
    after: AfterName
    end: int


@dataclass(frozen=True, slots=True)
class Definition:
    """The definition of a material, up to the next `newmtl` line.

    Attributes:
        name: Name of the material.
        line: Number of the `newmtl` line, from 1.
        start: First byte of the definition in the library's data.
        stop: The byte after the last byte of the definition.
        body: The content of the definition in the normal form of `Library.bodies`.
    """

    name: Name
    line: int
    start: int
    stop: int
    body: bytes


@dataclass(frozen=True, eq=False)
class Library:
    """A material library.

    Attributes:
        data: The file; UTF-16 is recoded to UTF-8 and reported as a problem.
        definitions: The definitions in the order of the file, including duplicates.
        maps: All maps in the order of the file.
        problems: The problems of the file.
    """

    data: bytes
    definitions: tuple[Definition, ...]
    maps: tuple[MapLine, ...]
    problems: tuple[Problem, ...]

    @property
    def materials(self) -> tuple[Name, ...]:
        """Names of the materials in the order of the file, including duplicates."""
        return tuple(definition.name for definition in self.definitions)

    @cached_property
    def bodies(self) -> dict[Name, bytes]:
        """Content of each material in a normal form, for comparison. The first definition of a name applies.

        The normal form ignores comments, white space, the order of statements with different keywords, the letter case
        of keywords, the spelling of numbers, and the kind of slash in paths. It keeps the folders of maps, because
        different folders may contain different textures.
        """
        return {definition.name: definition.body for definition in reversed(self.definitions)}

    @cached_property
    def repeats(self) -> tuple[Definition, ...]:
        """Later definitions that have the same content as the first definition of the same name."""
        first = {definition.name: definition for definition in reversed(self.definitions)}
        return tuple(one for one in self.definitions if first[one.name] != one and first[one.name].body == one.body)

    def statements(self, definition: Definition) -> tuple[Statement, ...]:
        """Return the statements of one of the `definitions`, beginning with its `newmtl` statement."""
        return tuple(statements_of(self.data, definition.start, definition.stop, definition.line, self._text))

    @cached_property
    def _text(self) -> bytes:
        """The data with continued lines joined."""
        return joined(self.data)

    def with_map_names(self, names: Mapping[int, bytes]) -> Library:
        """Replace the file names of maps.

        Options after a replaced name move before it, and a comment after it moves to a new line above. All other bytes
        are kept.

        Args:
            names: New names, by index in `maps`.

        Raises:
            Refusal: A library can't hold one of the names, for example an empty name or a name with a line ending.
        """
        if not names:
            return self
        pieces = []
        at = 0
        for index, name in sorted(names.items()):
            line = self.maps[index]
            if line.after.comment:
                match = LINE.match(self.data, line.end)
                pieces += [self.data[at : line.line_start], line.after.comment, (match[2] if match else b"") or b"\n"]
                at = line.line_start
            pieces += [self.data[at : line.start], b" ".join((*line.after.options, name))]
            at = line.end
        changed = read_library(b"".join([*pieces, self.data[at:]]))
        for index, name in names.items():
            if len(changed.maps) != len(self.maps) or changed.maps[index].name.raw != name:
                raise Refusal(f"a library can't hold the file name `{Name(name)}`: the name would be read differently")
        return changed


def read_library(data: bytes) -> Library:
    r"""Read a library. Faults are recorded as problems, not raised.

    Names may contain `#`. Lines end only at \r and \n, and words only at ASCII white space. Keywords may be in any
    letter case (common practice, no source).

    Source: MTL File Formats 4.2, 1995.
    """
    log = ProblemLog()
    data = decoded(data, log)
    statements = list(statements_of(data))
    heads = [index for index, statement in enumerate(statements) if statement.keyword == b"newmtl"]
    maps = list(_maps(statements[: heads[0]] if heads else statements, Name(b""), log))
    for statement in statements[: heads[0]] if heads else ():
        _report(log, "before-material", statement)
    if (text := joined(data)) is not data:
        first = next(at for at, (one, other) in enumerate(zip(data, text, strict=True)) if one != other)
        log.add("continued-line", Place(data.count(b"\n", 0, first) + 1))
    definitions: list[Definition] = []
    for head, end in pairwise([*heads, len(statements)]):
        name = Name(statements[head].rest)
        own_maps = list(_maps(statements[head + 1 : end], name, log))
        maps += own_maps
        stop = statements[end].line_start if end < len(statements) else len(data)
        start, line = statements[head].line_start, statements[head].line
        definitions.append(Definition(name, line, start, stop, _body(statements[head + 1 : end], own_maps)))
        if not name.raw:
            _report(log, "unnamed-material", statements[head])
    _report_duplicates(definitions, log)
    if not definitions and data.strip():
        log.merge([Problem("no-material", 1, (Place(1),))])
    return Library(data, tuple(definitions), tuple(maps), log.problems())


def merge_libraries(libraries: Sequence[Library]) -> bytes:
    """Merge libraries. Each material appears once, in the order of first appearance, with its definition as written.

    The lines above the first material come from the first library. File names of maps are not changed.

    Raises:
        MeshqcError: The definitions of a material differ.
    """
    bodies: dict[Name, bytes] = {}
    pieces: list[bytes] = []
    for library in libraries:
        if not pieces:
            header = library.definitions[0].start if library.definitions else len(library.data)
            pieces.append(library.data[:header].removeprefix(BYTE_ORDER_MARK))
        for definition in library.definitions:
            if definition.name not in bodies:
                bodies[definition.name] = definition.body
                pieces.append(library.data[definition.start : definition.stop])
            elif bodies[definition.name] != definition.body:
                raise MeshqcError(f"the libraries have different definitions of the material `{definition.name}`")
    newline = next((match[2] for piece in pieces for match in LINE.finditer(piece) if match[2]), b"\n")
    ended = [piece if piece.endswith((b"\r", b"\n")) or not piece else piece + newline for piece in pieces[:-1]]
    return b"".join([*ended, *pieces[-1:]])


def _maps(statements: Iterable[Statement], material: Name, log: ProblemLog) -> Iterator[MapLine]:
    for statement in statements:
        if not names_a_file(statement.keyword, statement.rest):
            continue
        options, offset = split_options(statement.rest)
        name, after = split_after(statement.rest[offset:])
        if not name:
            _report(log, "map-without-name", statement)
            continue
        start = statement.rest_start + offset
        written = Name(statement.written)
        end = statement.rest_start + len(statement.rest)
        line, line_start = statement.line, statement.line_start
        yield MapLine(material, written, options, Name(name), line, line_start, start, start + len(name), after, end)


def _body(statements: Iterable[Statement], maps: Iterable[MapLine]) -> bytes:
    """Return the content of a material in the normal form of `Library.bodies`.

    Args:
        statements: The statements after `newmtl`.
        maps: The maps among these statements.
    """
    names = {line.line: line for line in maps}
    lines: defaultdict[bytes, list[bytes]] = defaultdict(list)
    for statement in statements:
        of_map = names.get(statement.line)
        if of_map is None:
            words = [_even_number(word) for word in statement.rest.split()]
        else:
            options = map(_even_number, (*of_map.options, *of_map.after.options))
            words = [*options, of_map.name.raw.replace(b"\\", b"/")]
        lines[statement.keyword].append(b" ".join([statement.keyword, *words]))
    return b"\n".join(line for _, same in sorted(lines.items()) for line in same)


def _even_number(word: bytes) -> bytes:
    return repr(float(word) + 0.0).encode() if is_number(word) else word


def _report(log: ProblemLog, kind: str, statement: Statement) -> None:
    text = Name(b" ".join([statement.written, statement.rest]).rstrip())
    log.merge([Problem(kind, 1, (Place(statement.line, None, text),))])


def _report_duplicates(definitions: Iterable[Definition], log: ProblemLog) -> None:
    first: dict[Name, bytes] = {}
    for definition in definitions:
        if first.setdefault(definition.name, definition.body) != definition.body:
            log.merge([Problem("duplicate-material", 1, (Place(definition.line, None, definition.name),))])
