"""Material libraries that are not where the frames say."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import usable
from inspector.checks.base.references import Use, reference_findings
from inspector.formats.format import Trait
from inspector.sequence.materials.references import Status


def run(context: CheckContext) -> Iterator[Finding]:
    uses = (
        Use(index, library.name, library.target, Where(context.file_name(index), library.line.line))
        for index in usable(context)
        for library in context.materials(index).libraries
    )
    # For a library that is nowhere another can stand in where other frames name one that is there.
    found = any(use.library is not None for index in usable(context) for use in context.materials(index).libraries)
    answers = {Status.NEAR: CHECK.fixes[:1], Status.MISSING: CHECK.fixes if found else CHECK.fixes[1:]}
    yield from reference_findings(context, CHECK, "material library", uses, answers)


CHECK = Check(
    id="library-missing",
    title="Material library missing",
    severity=Severity.ERROR,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="The file that describes the materials is not where the frames say it is.",
        after_import="All surfaces come in grey or white; textures are gone.",
        what_to_do="If it was found elsewhere, use the fix that points all frames at it. Otherwise export the "
        "library again and put it beside the frames.",
    ),
    run=run,
    fixes=("share-library", "neutral-material"),
)
