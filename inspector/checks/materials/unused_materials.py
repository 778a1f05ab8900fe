"""Materials that no face of any sequence in the folder uses."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.libraries import Spot, material_states, named, spot_finding, used_libraries
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    states = material_states(context)
    if any(state.materials.undefined for state in states):
        raise NotApplicable("faces use materials that no library defines: the unused ones may be meant")
    libraries = used_libraries(context)
    everything = (context.series, *context.siblings)
    used = {name for series in everything for facts in series.facts for name in facts.materials}
    if not any(state.used for state in states):
        raise NotApplicable("no face has a material")
    unused = [
        (
            definition.name,
            Spot(Where(used_library.file, definition.line, definition.name.display), used_library.indices),
        )
        for used_library in libraries
        for definition in (used_library.library.definitions if used_library.library else ())
        if definition.name not in used and definition.name.raw
    ]
    if unused:
        names = [name for name, _ in unused]
        message = f"no face uses material {named(names)}"
        spots = [spot for _, spot in unused]
        yield spot_finding(
            context, CHECK.id, Severity.NOTE, message, spots, {"materials": len(set(names))}, CHECK.fixes
        )


CHECK = Check(
    id="unused-materials",
    title="Materials unused",
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
