"""Compare the definitions of materials between frames that have separate libraries."""

from __future__ import annotations

import os
from collections.abc import Iterator
from dataclasses import dataclass

from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Where
from inspector.checks.base.libraries import MaterialState, Spot, material_states
from inspector.formats.wavefront.library import Library
from inspector.names import Name
from inspector.sequence.materials.numbered_textures import without_number
from inspector.sequence.materials.resolver import LibraryUse


@dataclass(frozen=True, slots=True)
class MaterialChange:
    """A material whose definition differs between frames.

    Attributes:
        material: Name of the material.
        statements: Keywords of the statements that differ, in lower case.
        spot: Location of the different definition, and the frames that use it.
    """

    material: Name
    statements: tuple[bytes, ...]
    spot: Spot


def changes(context: CheckContext) -> Iterator[MaterialChange]:
    """Find materials whose definition differs from the reference frame's.

    If the reference frame has no definition of a material, the material is compared with its first definition in the
    other frames.

    Maps that lead to the same file count as equal. Numbers in the names of numbered textures are ignored.
    """
    states = material_states(context)
    reference = context.series.reference_index
    if len(states) < 2:
        return
    states.sort(key=lambda state: reference not in state.indices)
    contents = [(state, list(_contents(context, state))) for state in states]
    first: dict[Name, bytes] = {}
    for state, materials in contents:
        for name, body, where in materials:
            known = first.setdefault(name, body)
            if known != body:
                yield MaterialChange(name, _differing(known, body), Spot(where, state.indices))


def _contents(context: CheckContext, state: MaterialState) -> Iterator[tuple[Name, bytes, Where]]:
    """Yield the name, content and location of each used material in the frames' libraries, without duplicates."""
    done: set[Name] = set()
    used = set(state.used)
    for use in state.materials.libraries:
        if use.library is None or use.target.path is None:
            continue
        file = context.resolver.scope.relative(use.target.path)
        bodies = _resolved(use, use.library, state).bodies
        for definition in use.library.definitions:
            if definition.name in used and definition.name not in done:
                done.add(definition.name)
                where = Where(file, definition.line, definition.name.display)
                yield definition.name, bodies[definition.name], where


def _resolved(use: LibraryUse, library: Library, state: MaterialState) -> Library:
    """Replace the file name of each map with a name that identifies the file.

    All textures of a numbered series get the same name. If the file was not found, the file name is kept.
    """
    order = {line.start: index for index, line in enumerate(library.maps)}
    targets = {order[one.map.start]: one.target.path for one in state.materials.maps if one.library == use.name}
    names = {
        index: os.fsencode(path.parent).hex().encode() + without_number(path.name).hex().encode() + b".map"
        for index, path in targets.items()
        if path is not None
    }
    return library.with_map_names(names)


def _differing(one: bytes, other: bytes) -> tuple[bytes, ...]:
    """Return the keywords of the statements that only one of the two definitions contains."""
    lines = set(one.split(b"\n")) ^ set(other.split(b"\n"))
    return tuple(sorted({line.split(b" ", 1)[0] for line in lines if line}))
