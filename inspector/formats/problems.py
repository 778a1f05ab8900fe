"""The problems that a reader found in a file, by kind, with their counts and first locations."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from inspector import limits
from inspector.errors import MeshqcError
from inspector.names import Name


@dataclass(frozen=True, slots=True)
class Place:
    """A location in a file.

    Attributes:
        line: Line number, from 1; 0 if the location is not on a line of the file.
        element: Index among the elements of the same kind (vertices, faces, ...), from 0; None if the location is not
            an element.
        text: The wrong word or line, or details of the problem; None if there is nothing to quote.
    """

    line: int
    element: int | None = None
    text: Name | None = None


@dataclass(frozen=True, slots=True)
class Problem:
    """One kind of problem in one file.

    Attributes:
        kind: A key of KINDS.
        count: Number of occurrences.
        places: The first locations, at most limits.PLACES_KEPT. For the kinds "left-out" and "left-out-seen" in formats
            other than OBJ, the `text` of each entry describes left-out content instead.
    """

    kind: str
    count: int
    places: tuple[Place, ...]


class UnreadableFrame(MeshqcError):
    """The file as a whole can't be read as a frame, for the reason in `problem`."""

    def __init__(self, kind: str, line: int = 1, reason: str | None = None) -> None:
        """Make the error.

        Args:
            kind: A key of KINDS.
            line: Line number, from 1; 0 if the problem is not on a line of the file.
            reason: Details in plain words; None if the kind says enough.
        """
        text = None if reason is None else Name(reason.encode("utf-8", "surrogateescape"))
        self.problem = Problem(kind, 1, (Place(line, None, text),))
        super().__init__(self.words)

    @property
    def words(self) -> str:
        """The reason why the file can't be read, in words for users."""
        text = self.problem.places[0].text
        return KINDS[self.problem.kind] + ("" if text is None else f": {text.display}")

    def without_line(self) -> UnreadableFrame:
        """Return a copy of the error. A line number of 1, which is only the default, is removed; a larger line number
        was counted by the reader, and is kept.
        """
        place = self.problem.places[0]
        reason = None if place.text is None else place.text.text
        return UnreadableFrame(self.problem.kind, place.line if place.line > 1 else 0, reason)


# Every kind of problem, in plain words for the message. Only these keys are legal as `kind`.
KINDS: dict[str, str] = {
    # the file as a whole
    "unopenable": "the file could not be opened",
    "stalled": "the storage stopped responding while the file was being read",
    "empty": "the file is empty",
    "foreign": "the file is not a mesh in this format",
    "object-file": "the file is a compiler's object file, which has the same extension as a mesh",
    "compressed": "the file is compressed",
    "nul-run": "the file contains NUL bytes, so it was probably not copied completely",
    "long-line": "a line of numbers or corners is longer than any mesh needs",
    "cut-off": "the file ends in the middle of a line",
    "no-mesh": "the file has no vertices",
    "broken-form": "the file breaks the rules of its format",
    "too-short": "the file is shorter than its header announces",
    "not-supported": "the file needs a feature that is not supported",
    "part-outside": "part of the mesh is in another file, which was not read",
    "other-format": "the file extension doesn't match the format of the content",
    "left-out": "the file has content that is left out",
    "left-out-seen": "the file has visible content that is left out",
    "still-written": "the file changed while it was being read, so it is probably still being written",
    "not-measured": "reading or measuring the file failed",
    "reader-died": "the process that read this file crashed (it ran out of memory or was killed)",
    # numbers
    "bad-number": "an invalid or surplus number",
    "bad-uv": "an invalid or surplus number in a UV",
    "decimal-comma": "a decimal comma instead of a decimal point",
    "few-numbers": "a statement with too few numbers",
    "partial-extras": "only some vertices have extra numbers, such as a weight or a colour",
    "odd-number": "numbers in a rare form",
    # indices
    "zero-based": "all indices start at 0 instead of 1",
    "index-zero": "a vertex index of 0, although indices start at 1",
    "index-range": "a vertex index for which the file has no vertex",
    "vt-index-range": "a UV index for which the file has no UV",
    "vn-index-range": "a normal index for which the file has no normal",
    "mixed-corners": "corners with different kinds of indices in one face",
    "empty-index": "a corner with no index after a slash",
    "degenerate-face": "a face with fewer than three corners",
    "repeated-corner": "a face that uses a vertex more than once",
    "relative-index": "negative indices, which are relative",
    # the surface
    "duplicate-face": "a face with the same vertices as another face",
    "coincident-face": "a face with the same vertices as another face but the opposite orientation",
    "zero-area-face": "a face with zero area",
    "concave-face": "a concave face",
    "non-planar-face": "a non-planar face",
    "reversed-normal": "a face whose normals point to its back",
    "no-normal": "a face without normals, although other faces have them",
    "zero-normal": "a normal of length 0",
    "normal-length": "a normal whose length is not 1",
    "uv-crossing": "a face that crosses the border of the texture",
    "uv-collapsed": "a face with zero area in the texture",
    "face-without-material": "a face before the first usemtl statement",
    # text form
    "deprecated-statement": "a deprecated statement",
    "not-polygonal": "points or lines, which are dropped by importers that read only polygons",
    "free-form": "free-form curves or surfaces, which are dropped by importers that read only polygons",
    "capital-statement": "a statement in capital letters, although the format requires lower case",
    "unknown-statement": "a statement that the format does not define",
    "executable-statement": "a statement that would include a file or run a program",
    "byte-order-mark": "a byte-order mark before the first statement",
    "not-utf8": "text that is not UTF-8",
    "utf-16": "UTF-16 text instead of ASCII or UTF-8",
    "bare-returns": "lines that end in a bare carriage return",
    "mixed-newlines": "different line endings in one file",
    "continued-line": "a statement that is continued over several lines with a backslash",
    "trailing-comment": "a comment after data on the same line",
    "no-final-newline": "no line ending after the last line",
    "n-gons": "a face with more than 255 corners",
    # material libraries
    "no-material": "the file defines no material",
    "unnamed-material": "a material without a name",
    "duplicate-material": "a material with two different definitions",
    "before-material": "a statement before the first material",
    "map-without-name": "a map without a file name",
}


@dataclass(slots=True)
class ProblemLog:
    """Counts problems by kind while a file is read, and collects their first locations."""

    _counts: dict[str, int] = field(default_factory=dict)
    _places: dict[str, list[Place]] = field(default_factory=dict)

    def add(self, kind: str, place: Place, count: int = 1) -> None:
        """Record occurrences of one kind of problem.

        Args:
            kind: A key of KINDS.
            place: The location of the first occurrence.
            count: The number of occurrences.
        """
        assert kind in KINDS, kind
        self._counts[kind] = self._counts.get(kind, 0) + count
        places = self._places.setdefault(kind, [])
        if len(places) < limits.PLACES_KEPT:
            places.append(place)

    def merge(self, problems: Iterable[Problem], line_offset: int = 0, element_offset: int = 0) -> None:
        """Add the problems of a part of the file. Their lines and elements are counted from the start of the part.

        Args:
            problems: The problems of the part.
            line_offset: Number of lines before the part.
            element_offset: Number of elements of the same kind before the part.
        """
        for problem in problems:
            self._counts[problem.kind] = self._counts.get(problem.kind, 0) + problem.count
            places = self._places.setdefault(problem.kind, [])
            for place in problem.places[: limits.PLACES_KEPT - len(places)]:
                element = None if place.element is None else place.element + element_offset
                places.append(Place(place.line + line_offset, element, place.text))

    def problems(self) -> tuple[Problem, ...]:
        """Return the problems found so far, one entry per kind."""
        return tuple(Problem(kind, count, tuple(self._places[kind])) for kind, count in self._counts.items())
