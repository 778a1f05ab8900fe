"""Materials with a coloured texture as the ambient map, and without a colour map."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Subject, spot_finding
from inspector.checks.base.textures import AMBIENT, misplaced_colours, textures
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    misplaced = [usage for usage in misplaced_colours(textures(context)) if usage.keyword in AMBIENT]
    if misplaced:
        subject = Subject("material", (one.map.map.material for one in misplaced))
        message = f"{subject} {subject:has/have} an ambient map but no colour map"
        spots = [usage.spot for usage in misplaced]
        yield spot_finding(context, CHECK.id, Severity.WARNING, message, spots, fixes=CHECK.fixes)


CHECK = Check(
    id="colour-map-slot",
    title="Colour map in the ambient slot",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="A coloured texture is assigned as the ambient map (map_Ka) of a material that has no colour map "
        "(map_Kd). Most importers ignore ambient maps.",
        after_import="The surface shows one plain colour and no texture.",
        what_to_do="Use the fix that assigns the texture as the colour map, or assign the colour map by hand after the "
        "import.",
    ),
    run=run,
    fixes=("colour-map-statement",),
    scope=CheckScope.SEQUENCE,
)
