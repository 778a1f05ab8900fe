"""Materials that are defined more than once."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import MaterialState, Spot, Subject, material_states, spot_finding, used_libraries
from inspector.formats.format import Trait
from inspector.formats.wavefront.library import Definition
from inspector.names import Name


def run(context: CheckContext) -> Iterator[Finding]:
    libraries = used_libraries(context)
    files = {library.path: library.file for library in libraries}
    alike = {(used.file, again.line) for used in libraries if used.library for again in used.library.repeats}
    for severity, how in (
        (Severity.WARNING, "more than once, with different content"),
        (Severity.NOTE, "more than once, with the same content"),
    ):
        met = [
            (definition.name, Spot(Where(files[path], definition.line, definition.name.display), state.indices))
            for state in material_states(context)
            for path, definition, differs in _repeats(state)
            if differs is (severity is Severity.WARNING)
        ]
        if met:
            names = [name for name, _ in met]
            subject = Subject("material", names)
            message = f"{subject} {subject:is/are} defined {how}"
            spots = [spot for _, spot in met]
            fixes = CHECK.fixes if all((spot.where.file, spot.where.line) in alike for spot in spots) else ()
            yield spot_finding(context, CHECK.id, severity, message, spots, _numbers(names), fixes)


def _repeats(state: MaterialState) -> Iterator[tuple[Path, Definition, bool]]:
    """Yield the library, the repeated definition, and whether it differs from the material's first definition."""
    first: dict[Name, bytes] = {}
    libraries = {use.target.path: use.library for use in state.materials.libraries}
    for path, library in libraries.items():
        for definition in library.definitions if library else ():
            if definition.name in first and path is not None:
                yield path, definition, first[definition.name] != definition.body
            first.setdefault(definition.name, definition.body)


def _numbers(names: list[Name]) -> dict[str, float | int | str | None]:
    return {"materials": len(set(names)), "first": names[0].display}


CHECK = Check(
    id="duplicate-materials",
    title="Material defined more than once",
    severity=Severity.WARNING,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="The libraries of a frame define the same material more than once. The format doesn't state which "
        "definition applies.",
        after_import="Some readers use the first definition, and some the last. A colour or a texture may be wrong.",
        what_to_do="Delete the unwanted definition from the library, or rename one of the materials in the scene and "
        "export again.",
    ),
    run=run,
    fixes=("clean-library",),
)
