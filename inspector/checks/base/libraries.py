"""The material libraries and materials of a sequence, with the frames that use them."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path

from inspector import limits
from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import plural_of, usable
from inspector.formats.wavefront.library import Definition, Library
from inspector.formats.wavefront.library_lines import Statement
from inspector.formats.wavefront.opacity import last_of
from inspector.names import Name, joined_words
from inspector.sequence.materials.resolver import FrameMaterials


@dataclass(frozen=True, slots=True)
class MaterialState:
    """Frames with the same folder, libraries and materials.

    Attributes:
        materials: Contents of the frames' libraries, and the files that the libraries refer to.
        used: Names of the materials that the frames' faces use.
        indices: Indices of the frames.
    """

    materials: FrameMaterials
    used: tuple[Name, ...]
    indices: list[int]


@dataclass(frozen=True, slots=True)
class UsedLibrary:
    """A library file that frames refer to.

    Attributes:
        path: Path of the file.
        file: The path relative to the inspected folder.
        library: Contents of the file; None if it can't be read.
        indices: Indices of the frames.
    """

    path: Path
    file: Name
    library: Library | None
    indices: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class UsedMaterial:
    """A definition, in one library, of a material that faces use.

    Attributes:
        file: Path of the library, relative to the inspected folder.
        definition: Name of the material, and line of the definition.
        statements: Statements of the definition, `newmtl` first.
        inside: Whether the material is defined inside a mesh file. If so, meshqc wrote the text of the statements.
        indices: Indices of the frames whose faces use the material.
    """

    file: Name
    definition: Definition
    statements: tuple[Statement, ...]
    inside: bool = False
    indices: list[int] = field(default_factory=list)

    def last(self, keyword: bytes) -> Statement | None:
        """Return the last statement with this keyword (in lower case); None if there is none."""
        return last_of(self.statements, keyword)

    def where(self, statement: Statement) -> Where:
        """Return the location of a statement, without a line if the material is inside a mesh file."""
        line = None if self.inside else statement.line
        return Where(self.file, line, f"{Name(statement.written)} of {self.definition.name}")


@dataclass(frozen=True, slots=True)
class Spot:
    """A location with a problem.

    Attributes:
        where: The location.
        indices: Indices of the frames that have the problem.
    """

    where: Where
    indices: Iterable[int]


def material_states(context: CheckContext) -> list[MaterialState]:
    """Group the usable frames by folder, libraries and materials, and sort the groups by their first frames."""
    return context.once(_material_states)


def _material_states(context: CheckContext) -> list[MaterialState]:
    states: dict[int, MaterialState] = {}
    for index in usable(context):
        materials = context.materials(index)  # one object for all frames that agree
        used = context.series.facts[index].materials
        states.setdefault(id(materials), MaterialState(materials, used, [])).indices.append(index)
    return list(states.values())


def used_libraries(context: CheckContext) -> list[UsedLibrary]:
    """Return the libraries that were found, without duplicates.

    Raises:
        NotApplicable: No library was found.
    """
    found = context.once(_used_libraries)
    if not found:
        raise NotApplicable(
            "none of the material libraries that the frames refer to was found"
            if any(state.materials.libraries for state in material_states(context))
            else "the frames refer to no material library"
        )
    return found


def _used_libraries(context: CheckContext) -> list[UsedLibrary]:
    found: dict[Path, UsedLibrary] = {}
    for state in material_states(context):
        for path, library in {use.target.path: use.library for use in state.materials.libraries}.items():
            if path is not None:
                entry = UsedLibrary(path, context.resolver.scope.relative(path), library)
                found.setdefault(path, entry).indices.extend(state.indices)
    return list(found.values())


def library_files(context: CheckContext) -> list[Path]:
    """Return the library files in the folders that may be read, including files that no frame refers to.

    The files beside the frames come first. A file is left out if its name contains a line break or has white space
    at either end, because an `mtllib` line can't contain such a name.
    """
    return context.once(_library_files)


def _library_files(context: CheckContext) -> list[Path]:
    def is_plain(path: Path) -> bool:
        name = os.fsencode(path.name)
        return name == name.strip() and len(name.splitlines()) == 1

    beside = context.series.sequence.folder.resolve()
    found = filter(is_plain, context.resolver.scope.ending_in({".mtl"}))
    return sorted(found, key=lambda path: (path.parent != beside, path))


def fitting_libraries(context: CheckContext, needed: Collection[Name]) -> list[Path]:
    """Return the library files that define all the needed materials. Files beside the frames come first.

    The result is empty if a library that a frame refers to was found, or if no materials are given.
    """
    if not needed or context.once(_has_found_library):
        return []
    read = ((path, context.resolver.library(path)) for path in library_files(context))
    return [path for path, library in read if library is not None and set(needed) <= set(library.materials)]


def _has_found_library(context: CheckContext) -> bool:
    uses = (use for state in material_states(context) for use in state.materials.libraries)
    return any(use.target.path is not None for use in uses)


def used_materials(context: CheckContext) -> list[UsedMaterial]:
    """Return the definitions of the materials that faces use, without duplicates.

    Raises:
        NotApplicable: No library was found.
    """
    relative = {one.path: one.file for one in used_libraries(context)}
    found: dict[tuple[Path, int], UsedMaterial] = {}
    for state in material_states(context):
        used = set(state.used)
        for path, use in {use.target.path: use for use in state.materials.libraries}.items():
            if path is None or use.library is None:
                continue
            for definition in use.library.definitions:
                if definition.name in used:
                    entry = UsedMaterial(relative[path], definition, use.library.statements(definition), use.inside)
                    found.setdefault((path, definition.start), entry).indices.extend(state.indices)
    return list(found.values())


def unused_materials(context: CheckContext) -> list[tuple[UsedLibrary, Definition]]:
    """Find the materials that no face in the folder's sequences uses, as pairs of a library and a definition.

    Raises:
        NotApplicable: No library was found, no face has a material, or a face uses a material that no library defines.
            In the last case, an unused material may be meant for that face.
    """
    states = material_states(context)
    if any(state.materials.undefined for state in states):
        raise NotApplicable(
            "faces use materials that no library defines, and the unused materials may be meant for those faces"
        )
    libraries = used_libraries(context)
    if not any(state.used for state in states):
        raise NotApplicable("no face has a material")
    everything = (context.series, *context.siblings)
    used = {name for series in everything for facts in series.facts for name in facts.materials}
    return [
        (library, definition)
        for library in libraries
        for definition in (library.library.definitions if library.library else ())
        if definition.name not in used and definition.name.raw
    ]


def spot_finding(
    context: CheckContext,
    check: str,
    severity: Severity,
    message: str,
    spots: Iterable[Spot],
    numbers: Mapping[str, float | int | str | None] | None = None,
    fixes: tuple[str, ...] = (),
) -> Finding:
    """Make one finding about the frames of all given locations. The finding lists only the first few locations.

    `numbers` contains values that support the finding. The finding gets these values and the number of locations.
    """
    spots = list(spots)
    indices = sorted({index for spot in spots for index in spot.indices})
    places = tuple(dict.fromkeys(spot.where for spot in spots))
    return Finding(
        check,
        severity,
        message,
        context.numbers(indices),
        places[: limits.PLACES_KEPT],
        {"places": len(places), **(numbers or {})},
        fixes,
    )


def named(names: Iterable[Name], most: int = 3) -> str:
    """List at most `most` names, without duplicates: "`a` and `b`", or "`a`, `b`, `c` and 4 more"."""
    distinct = [f"`{name.display}`" for name in dict.fromkeys(names)]
    rest = len(distinct) - most
    listed = [*distinct[:most], f"{rest:,} more"] if rest > 0 else distinct
    return joined_words(listed, "and")


def name_changes(usual: Iterable[Name], found: Iterable[Name]) -> tuple[str, int, int]:
    """Compare the names in a frame with the usual names, which are those in the reference frame.

    Returns:
        The difference in words, such as "missing: `a`; new: `b` and `c`" ("" if there is none), and the numbers of
        missing and of new names.
    """
    gone, new = sorted({*usual} - {*found}), sorted({*found} - {*usual})
    words = (f"{word}: {named(names)}" for word, names in (("missing", gone), ("new", new)) if names)
    return "; ".join(words), len(gone), len(new)


class Subject:
    """Names with their noun, for messages, such as "material `a`" or "materials `a` and `b`".

    For example, f"{subject} {subject:is/are} used" is "material `a` is used".
    """

    def __init__(self, thing: str, names: Iterable[Name]) -> None:
        """Make the subject from a noun in the singular and at least one name. Duplicate names count once."""
        distinct = dict.fromkeys(names)
        self._single = len(distinct) == 1
        self._text = f"{thing if self._single else plural_of(thing)} {named(distinct)}"

    def __str__(self) -> str:
        return self._text

    def __format__(self, words: str) -> str:
        """Return the subject or, if `words` is a pair such as "is/are", the form that agrees with the subject."""
        if not words:
            return self._text
        singular, plural = words.split("/")
        return singular if self._single else plural
