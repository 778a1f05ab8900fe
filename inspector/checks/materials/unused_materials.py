"""Materials that no face of any sequence in the folder uses."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import Spot, Subject, spot_finding, unused_materials
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    unused = unused_materials(context)
    if unused:
        names = {definition.name for _, definition in unused}
        spots = [
            Spot(Where(library.file, definition.line, definition.name.display), library.indices)
            for library, definition in unused
        ]
        message = f"no face uses {Subject('material', (definition.name for _, definition in unused))}"
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, spots, {"materials": len(names)}, CHECK.fixes)


CHECK = Check(
    id="unused-materials",
    title="Unused materials",
    severity=Severity.NOTE,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A library defines materials that no face of any sequence in the folder uses.",
        after_import="The picture is not affected, but the list of materials is longer than necessary, and the "
        "textures of unused materials are loaded.",
        what_to_do="Nothing, unless a face was meant to have one of these materials. In that case, check which "
        "materials the exporter assigns to the faces.",
    ),
    run=run,
    fixes=("drop-unused-materials",),
)
