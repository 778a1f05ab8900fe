"""Materials without a colour map, although a texture file beside the library could be the map."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.colour_map_names import unnamed_colour_maps
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Spot, Subject, named, spot_finding
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    found = unnamed_colour_maps(context)
    if found:
        images = [context.resolver.scope.relative(image) for one in found for image in one.images]
        subject = Subject("material", (one.material.definition.name for one in found))
        there = f"{named(images)} beside {named(one.material.file for one in found)}"
        message = f"{subject} {subject:has/have} no colour map, but {there} could belong to {subject:it/them}"
        spots = [Spot(one.material.where(one.material.statements[0]), one.material.indices) for one in found]
        fixes = CHECK.fixes if any(len(one.images) == 1 for one in found) else ()
        yield spot_finding(context, CHECK.id, Severity.WARNING, message, spots, fixes=fixes)


CHECK = Check(
    id="colour-map-unnamed",
    title="Colour map not assigned",
    severity=Severity.WARNING,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A material has no colour map, but a texture file beside its library could be the map. No map statement "
        "refers to this file. The file has the same name as the material or as another map of the material, apart from "
        "words for the kind of map (such as colour or normal). Some exporters leave out a map if the texture is "
        "connected to the material in an unusual way.",
        after_import="The surface shows one plain colour and no texture.",
        what_to_do="Use the fix that assigns the texture as the colour map, or assign the colour map by hand after the "
        "import.",
    ),
    run=run,
    fixes=("name-colour-map",),
    scope=CheckScope.SEQUENCE,
)
