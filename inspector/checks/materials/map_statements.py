"""Maps in statements that are neither in the format nor a common extension of it."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import spot_finding
from inspector.checks.base.textures import Usage, usages
from inspector.formats.format import Trait
from inspector.formats.wavefront.map_options import FURTHER_MAPS, MAP_STATEMENTS


def run(context: CheckContext) -> Iterator[Finding]:
    met: dict[bytes, list[Usage]] = {}
    for usage in usages(context):
        if usage.keyword not in MAP_STATEMENTS:
            met.setdefault(usage.keyword, []).append(usage)
    if met:
        listed = (
            f"`{places[0].map.map.statement.display}` ({FURTHER_MAPS.get(keyword, 'meaning not known')})"
            for keyword, places in sorted(met.items())
        )
        spots = [usage.spot for places in met.values() for usage in places]
        message = f"map statements that the format does not define: {', '.join(listed)}"
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, spots, {"statements": len(met)})


CHECK = Check(
    id="map-statements",
    title="Map statements beyond the format",
    severity=Severity.NOTE,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A material names an image in a statement that is neither in the format nor a common extension of it. A "
        "corrected copy includes the image.",
        after_import="Readers that don't support the statement leave the map out: the surface looks flatter, rougher "
        "or more opaque than intended.",
        what_to_do="Assign these maps by hand after the import. If the format has a statement for that kind of map, "
        "rename the statement instead.",
    ),
    run=run,
)
