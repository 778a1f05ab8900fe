"""Textures that are wrongly assigned as normal maps, and normal maps that are assigned as height or colour maps."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Subject, spot_finding
from inspector.checks.base.textures import (
    BUMP,
    COLOUR,
    NORMAL,
    Texture,
    Usage,
    is_plain_bump,
    misplaced_colours,
    textures,
)
from inspector.formats.format import Trait
from inspector.sequence.materials.image_cache import (
    NORMAL_ALONG_GREY,
    NORMAL_INWARD,
    NORMAL_LEAN,
    NORMAL_LENGTH_OFF,
    NORMAL_LOOKS_SHARE,
    NORMAL_SHARE,
    NORMAL_STRAIGHT,
)

_HOW = {
    "none": "{0:is assigned as a normal map/are assigned as normal maps}, but {0:its/their} colours don't encode "
    "normals",
    "inward": "{0:is assigned as a normal map/are assigned as normal maps}, but some of {0:its/their} normals point "
    "inwards, as in object space",
    "as height": "{0:looks like a normal map, but is assigned as a height map/"
    "look like normal maps, but are assigned as height maps}",
    "as colour": "{0:looks like a normal map, but is assigned as a colour map/"
    "look like normal maps, but are assigned as colour maps}",
}

_SEVERITY = {
    "none": Severity.ERROR,
    "inward": Severity.WARNING,
    "as height": Severity.NOTE,
    "as colour": Severity.WARNING,
}
"""Severity by kind of wrong assignment. A normal map that is assigned as a height map is only a note, because many
programs write normal maps as height maps, and many readers recognise them.
"""


def run(context: CheckContext) -> Iterator[Finding]:
    met: dict[str, list[tuple[Texture, list[Usage]]]] = {}
    found = textures(context)
    for texture in found:
        judged = _judge(texture) if texture.facts.decoded else None
        if judged is not None:
            met.setdefault(judged[0], []).append((texture, judged[1]))
    for kind, places in met.items():
        subject = Subject("texture", (texture.file for texture, _ in places))
        message = f"{subject} {_HOW[kind].format(subject)}"
        spots = [usage.spot for _, usages in places for usage in usages]
        numbers: dict[str, float | int | str | None] = {
            "kind": kind,
            "off_length": round(places[0][0].facts.off_length, 4),
        }
        yield spot_finding(context, CHECK.id, _SEVERITY[kind], message, spots, numbers, _answers(kind, places, found))


def _answers(kind: str, places: list[tuple[Texture, list[Usage]]], found: list[Texture]) -> tuple[str, ...]:
    """Return the ids of the fixes that would change at least one of these maps."""
    usages = [usage for _, some in places for usage in some]
    if kind == "as height" and any(is_plain_bump(usage.map.map) for usage in usages):
        return ("norm-statement",)
    misplaced = {usage.spot.where for usage in misplaced_colours(found)}
    return ("colour-map-statement",) if any(usage.spot.where in misplaced for usage in usages) else ()


def _judge(texture: Texture) -> tuple[str, list[Usage]] | None:
    normals, heights, colours = (texture.used_as(kind) for kind in (NORMAL, BUMP, COLOUR))
    if colours and (normals or heights):
        return None  # texture-used-twice reports textures with two roles
    facts = texture.facts
    if normals and facts.is_no_normal_map:
        return "none", normals
    if normals and facts.is_not_tangent:
        return "inward", normals
    if facts.looks_like_normals and heights:
        return "as height", heights
    return ("as colour", colours) if facts.looks_like_normals and colours else None


CHECK = Check(
    id="normal-map",
    title="Doubtful normal map",
    severity=Severity.ERROR,
    needs=(Trait.MATERIALS,),
    rationale=Rationale(
        what="The colours of a normal map encode vectors of length 1. In tangent space, all these vectors point "
        "outwards. Here, the texture of a normal map has other colours, or it contains object-space normals, or a "
        "normal map is assigned as a height map (bump, map_Bump) or as a colour map. Object-space normals don't follow "
        "a deforming surface.",
        after_import="The shading of the surface looks crumpled, or the surface is bluish.",
        what_to_do="Assign the right texture, or set the kind of map (normal, height, colour) by hand after the "
        "import.",
    ),
    run=run,
    fixes=("norm-statement", "colour-map-statement"),
    scope=CheckScope.SEQUENCE,
    thresholds=(
        NORMAL_LENGTH_OFF,
        NORMAL_SHARE,
        NORMAL_LOOKS_SHARE,
        NORMAL_LEAN,
        NORMAL_STRAIGHT,
        NORMAL_INWARD,
        NORMAL_ALONG_GREY,
    ),
)
