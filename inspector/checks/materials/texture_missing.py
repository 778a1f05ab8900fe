"""Texture files that materials refer to, but that don't exist at the given paths."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import usable
from inspector.checks.base.reference_findings import Use, reference_findings
from inspector.formats.format import Trait
from inspector.formats.wavefront.map_options import MAP_STATEMENTS
from inspector.sequence.materials.references import Status


def run(context: CheckContext) -> Iterator[Finding]:
    bring, lost = CHECK.fixes[:1], CHECK.fixes[1:]
    answers = {Status.NEAR: bring, Status.MISSING: lost, Status.OUTSIDE: lost}
    for further in (False, True):
        for finding in reference_findings(context, CHECK, "texture", _uses(context, further), answers):
            # Many importers skip statements that the format does not define.
            yield replace(finding, severity=min(finding.severity, Severity.WARNING)) if further else finding


def _uses(context: CheckContext, further: bool) -> Iterator[Use]:
    """Yield the uses of textures in standard and common map statements or, if `further` is true, in all others."""
    for index in usable(context):
        materials = context.materials(index)
        paths = {library.name: library.target.path for library in materials.libraries}
        for use in materials.maps:
            if (use.map.statement.raw.lower() not in MAP_STATEMENTS) is not further:
                continue
            path = paths[use.library]
            file = use.library if path is None else context.resolver.scope.relative(path)
            element = f"{use.map.statement.display} of {use.map.material.display}"
            yield Use(index, use.map.name, use.target, Where(file, use.map.line, element))


CHECK = Check(
    id="texture-missing",
    title="Texture file missing",
    severity=Severity.ERROR,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="A material refers to a texture file, but no file exists at the given path.",
        after_import="The surface shows a flat colour, often black or white, instead of the texture.",
        what_to_do="If the file is in a different folder, add --textures DIR. If the file was found elsewhere, the "
        "fix copies it and corrects the path.",
    ),
    run=run,
    fixes=("collect-textures", "replace-missing-maps"),
)
