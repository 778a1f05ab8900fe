"""Materials that say something else in some frames, because frames bring libraries of their own."""

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
        f"material {named(change.material for change in met)} is not the same in all frames: "
        f"{named(map(Name, statements))} differ",
        [change.spot for change in met],
        {"materials": len({change.material for change in met}), "statements": len(statements)},
    )


CHECK = Check(
    id="materials-change",
    title="Materials change",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="Frames bring material libraries of their own, and these describe a material of one name differently.",
        after_import="An import that reads one library shows its look on all frames; one that reads each may flicker.",
        what_to_do="If the look is meant to stay, use the fix that points all frames at one library and say which "
        "(share-library:library=FILE). A look that is meant to change is better animated after the import.",
    ),
    run=run,
    scope=Scope.SEQUENCE,
)
