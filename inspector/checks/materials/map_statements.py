"""Maps in statements that belong neither to the format nor to a common extension of the format."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import spot_finding
from inspector.checks.base.textures import Usage, usages
from inspector.formats.format import Trait
from inspector.formats.wavefront.map_options import FURTHER_MAPS, MAP_STATEMENTS
from inspector.names import joined_words


def run(context: CheckContext) -> Iterator[Finding]:
    met: dict[bytes, list[Usage]] = {}
    for usage in usages(context):
        if usage.keyword not in MAP_STATEMENTS:
            met.setdefault(usage.keyword, []).append(usage)
    if met:
        listed = (
            f"`{places[0].map.map.statement.display}` ({FURTHER_MAPS.get(keyword, 'unknown meaning')})"
            for keyword, places in sorted(met.items())
        )
        spots = [usage.spot for places in met.values() for usage in places]
        noun = "map statement" if len(met) == 1 else "map statements"
        message = f"the format does not define the {noun} {joined_words(list(listed), 'and')}"
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, spots, {"statements": len(met)})


CHECK = Check(
    id="map-statements",
    title="Undefined map statements",
    severity=Severity.NOTE,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A material has a map in a statement that is neither part of the format nor a common extension of the "
        "format. Corrected copies include the texture of this map.",
        after_import="Readers that don't support the statement leave out the map, so the surface looks flatter, "
        "rougher or more opaque than intended.",
        what_to_do="Assign these maps by hand after the import. If the format has a statement for this kind of map, "
        "use that statement instead.",
    ),
    run=run,
)
