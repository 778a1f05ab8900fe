"""Materials that differ between frames, because frames have libraries of their own."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import named, spot_finding, used_libraries
from inspector.checks.base.material_content import changes
from inspector.formats.format import Trait
from inspector.names import Name


def run(context: CheckContext) -> Iterator[Finding]:
    used_libraries(context)
    met = list(changes(context))
    if not met:
        return
    statements = sorted({statement for change in met for statement in change.statements})
    yield spot_finding(
        context,
        CHECK.id,
        Severity.WARNING,
        f"material {named(change.material for change in met)} differs between frames: {named(map(Name, statements))}",
        [change.spot for change in met],
        {"materials": len({change.material for change in met}), "statements": len(statements)},
    )


CHECK = Check(
    id="materials-change",
    title="Materials change",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="Frames have their own material libraries, and these define a material of one name differently.",
        after_import="An import that reads one library shows its materials on all frames. An import that reads each "
        "library may flicker.",
        what_to_do="If the material should stay the same, use the fix that points all frames to one library and name "
        "it (share-library:library=FILE). If it should change, animate it after the import.",
    ),
    run=run,
    scope=Scope.SEQUENCE,
)
