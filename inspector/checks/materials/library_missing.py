"""Material libraries that frames refer to, but that don't exist at the given paths."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import usable
from inspector.checks.base.libraries import fitting_libraries, material_states
from inspector.checks.base.reference_findings import Use, reference_findings
from inspector.formats.format import Trait
from inspector.sequence.materials.references import Status


def run(context: CheckContext) -> Iterator[Finding]:
    uses = (
        Use(index, library.name, library.target, Where(context.file_name(index), library.line.line))
        for index in usable(context)
        for library in context.materials(index).libraries
    )
    # A missing library can be replaced by the library of another frame, or by a library that no frame refers to.
    found = any(
        any(use.library is not None for use in state.materials.libraries) or fitting_libraries(context, state.used)
        for state in material_states(context)
    )
    answers = {Status.NEAR: CHECK.fixes[:1], Status.MISSING: CHECK.fixes if found else CHECK.fixes[1:]}
    yield from reference_findings(context, CHECK, "material library", uses, answers)


CHECK = Check(
    id="library-missing",
    title="Material library missing",
    severity=Severity.ERROR,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="The frames refer to a material library, but no file exists at the given path.",
        after_import="All surfaces are grey or white, and textures are missing.",
        what_to_do="If a library was found that defines the materials, the fix points all frames to it. Otherwise, "
        "export the library again.",
    ),
    run=run,
    fixes=("share-library", "neutral-material"),
)
