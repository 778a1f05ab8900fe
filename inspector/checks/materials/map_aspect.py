"""Maps whose proportions don't fit the surface, or each other."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.checks.base.check import Check, Rationale, Scope
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, has_whole_uvs
from inspector.checks.base.libraries import named, spot_finding
from inspector.checks.base.textures import COLOUR, Texture, Usage, spots, textures
from inspector.formats.format import Trait
from inspector.names import Name


def run(context: CheckContext) -> Iterator[Finding]:
    sized = [texture for texture in textures(context) if texture.facts.decoded and not texture.facts.one_colour]
    unlike = list(_unlike(sized))
    if unlike:
        message = f"maps of one material have different proportions: {named((one.file for one in unlike), 4)}"
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, spots(unlike), {"kind": "unlike"})
        return
    squeezed = list(_squeezed(context, sized))
    if squeezed:
        squeeze = squeezed[0][2]
        way, factor = ("width", squeeze) if squeeze > 1.0 else ("height", 1.0 / squeeze)
        message = (
            f"texture {named(one.file for one, _, _ in squeezed)} is squeezed in {way} on the surface, {factor:.1f}x"
        )
        where = [usage.spot for _, usage, _ in squeezed]
        numbers: dict[str, float | int | str | None] = {"kind": "squeezed", "squeeze": round(squeeze, 3)}
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, where, numbers)


def _unlike(sized: list[Texture]) -> Iterator[Texture]:
    """Textures of materials whose maps differ in proportions."""
    aspects: dict[Name, set[float]] = {}
    for texture in sized:
        for usage in texture.usages:
            aspects.setdefault(usage.map.map.material, set()).add(_aspect(texture))
    odd = {name for name, found in aspects.items() if max(found) > limits.MAP_ASPECTS * min(found)}
    return (texture for texture in sized if any(usage.map.map.material in odd for usage in texture.usages))


def _squeezed(context: CheckContext, sized: list[Texture]) -> Iterator[tuple[Texture, Usage, float]]:
    """Colour maps far from the proportions that the surface wants, and their aspect over the wanted one."""
    if not has_whole_uvs(base_facts(context)) or not any(texture.used_as(COLOUR) for texture in sized):
        return
    wanted = _wanted_aspects(context)
    for texture in sized:
        for usage in texture.used_as(COLOUR):
            squeeze = _aspect(texture) / wanted.get(usage.map.map.material, np.nan)
            if max(squeeze, 1.0 / squeeze) > context.limit("MAP_SQUEEZED"):
                yield texture, usage, squeeze


def _aspect(texture: Texture) -> float:
    """Width over height."""
    width, height = texture.facts.size or (1, 1)
    return width / height


def _wanted_aspects(context: CheckContext) -> dict[Name | None, float]:
    """Of each material in the reference frame, the width over height that half of its surface wants at least; only
    where it wants about the same everywhere."""
    return {name: fit.aspects[1] for name, fit in context.material_fits.items() if fit.is_even}


CHECK = Check(
    id="map-aspect",
    title="Proportions of maps",
    severity=Severity.NOTE,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="A texture is much wider or higher than its place on the surface, or the maps of one material differ in "
        "proportions. Held against the reference frame. How many pixels are wanted is not judged.",
        after_import="A picture made flat (lettering, a logo's circle) looks squeezed; one painted on it is right.",
        what_to_do="Draw flat pictures in the proportions that the surface wants.",
    ),
    run=run,
    scope=Scope.SEQUENCE,
    thresholds=("MAP_ASPECTS", "MAP_SQUEEZED", "ASPECT_SPREAD"),
    settable=("MAP_SQUEEZED",),
)
