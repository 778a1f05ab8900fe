"""Materials that no face of any sequence in the folder uses."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import Spot, named, spot_finding, unused_materials
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    unused = unused_materials(context)
    if unused:
        names = {definition.name for _, definition in unused}
        spots = [
            Spot(Where(library.file, definition.line, definition.name.display), library.indices)
            for library, definition in unused
        ]
        message = f"no face uses material {named(definition.name for _, definition in unused)}"
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, spots, {"materials": len(names)}, CHECK.fixes)


CHECK = Check(
    id="unused-materials",
    title="Unused materials",
    severity=Severity.NOTE,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="The library defines materials that no face of these sequences uses.",
        after_import="Nothing shows in the picture. The list of materials is longer than necessary, and their "
        "textures are loaded.",
        what_to_do="Nothing, unless a face was meant to have one of them. In that case look at what the export "
        "assigns.",
    ),
    run=run,
    fixes=("drop-unused-materials",),
)
