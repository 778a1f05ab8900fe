"""Normal maps with different conventions: green means up in some maps, and down in other maps."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import named, spot_finding
from inspector.checks.base.textures import normal_maps, spots
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    maps = normal_maps(context)
    up, down = ([one for one in maps if one.facts.green_up is way] for way in (True, False))
    if up and down:
        files = [named(texture.file for texture in some) for some in (up, down)]
        message = f"green means up in {files[0]}, but down in {files[1]}"
        fewer = min(up, down, key=len)
        yield spot_finding(
            context, CHECK.id, Severity.WARNING, message, spots(fewer), {"up": len(up), "down": len(down)}
        )


CHECK = Check(
    id="normal-map-green",
    title="Normal maps with two conventions",
    severity=Severity.WARNING,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="Green means up in one convention for normal maps, and down in the other. The slopes in a map show which "
        "convention the map follows. In this sequence, some maps follow one convention, and some the other.",
        after_import="If the importer uses one setting for all maps, bumps look like dents on some materials.",
        what_to_do="Save all maps again in one convention, or invert the green channel of the listed maps after the "
        "import.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
)
