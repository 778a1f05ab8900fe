"""Maps whose aspect doesn't fit the surface, or differs from the aspect of the material's other maps."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, has_whole_uvs
from inspector.checks.base.libraries import Subject, named, spot_finding
from inspector.checks.base.material_fit import ASPECT_SPREAD
from inspector.checks.base.textures import COLOUR, Texture, Usage, spots, textures
from inspector.formats.format import Trait
from inspector.names import Name
from inspector.threshold import Threshold

MAP_SQUEEZED = Threshold(
    "map-squeezed",
    1.5,
    "A map counts as squeezed if its aspect ratio differs by more than this factor from the aspect ratio that the "
    "surface requires. Smaller factors are usual, because most UVs are stretched a little, and painting on the surface "
    "compensates for the stretch (common practice, no source).",
    settable=True,
)

MAP_SQUEEZED_THROUGHOUT = Threshold(
    "map-squeezed-throughout",
    1.1,
    "A map counts as squeezed if its aspect ratio differs by more than this factor from the nearest aspect ratio that "
    "any part of the surface requires. The 5% of the surface with the lowest ratios and the 5% with the highest ratios "
    "are left out. The limit is low, because a circle is visibly not round if the whole map is stretched by a tenth in "
    "one direction (common practice, no source).",
    settable=True,
)

MAP_ASPECTS = Threshold(
    "map-aspects",
    1.02,
    "Two maps of one material are reported if their aspect ratios differ by more than this factor. Some "
    "difference is allowed, because the sides of maps are rounded to whole pixels.",
)


def run(context: CheckContext) -> Iterator[Finding]:
    sized = [texture for texture in textures(context) if texture.facts.decoded and not texture.facts.one_colour]
    unlike = list(_unlike(sized))
    if unlike:
        message = (
            f"maps of the same material have different aspect ratios: {named((texture.file for texture in unlike), 4)}"
        )
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, spots(unlike), {"kind": "unlike"})
        return
    squeezed = list(_squeezed(context, sized))
    if squeezed:
        squeeze = squeezed[0][2]
        side, factor = ("width", squeeze) if squeeze > 1.0 else ("height", 1.0 / squeeze)
        subject = Subject("texture", (texture.file for texture, _, _ in squeezed))
        message = (
            f"{subject} {subject:is/are} squeezed on the surface{subject:/, the first} in {side} "
            f"by a factor of {factor:.1f}"
        )
        where = [usage.spot for _, usage, _ in squeezed]
        numbers: dict[str, float | int | str | None] = {"kind": "squeezed", "squeeze": round(squeeze, 3)}
        yield spot_finding(context, CHECK.id, Severity.NOTE, message, where, numbers)


def _unlike(sized: list[Texture]) -> Iterator[Texture]:
    aspects: dict[Name, set[float]] = {}
    for texture in sized:
        for usage in texture.usages:
            aspects.setdefault(usage.map.map.material, set()).add(_aspect(texture))
    odd = {name for name, found in aspects.items() if max(found) > MAP_ASPECTS.value * min(found)}
    return (texture for texture in sized if any(usage.map.map.material in odd for usage in texture.usages))


def _squeezed(context: CheckContext, sized: list[Texture]) -> Iterator[tuple[Texture, Usage, float]]:
    """Find colour maps whose aspect is far from the aspect that the surface requires.

    A material is left out if different parts of its surface require very different aspects. Nothing is found if the UVs
    of the reference frame are incomplete.

    Yields:
        The texture, the map statement, and the aspect divided by the median of the required aspects.
    """
    if not has_whole_uvs(base_facts(context)) or not any(texture.used_as(COLOUR) for texture in sized):
        return
    fits = context.material_fits
    for texture in sized:
        for usage in texture.used_as(COLOUR):
            fit = fits.get(usage.map.map.material)
            if fit is None or not fit.is_even:
                continue
            low, middle, high = fit.aspects
            aspect = _aspect(texture)
            throughout = _factor(aspect, min(max(aspect, low), high))
            over = throughout > context.limit(MAP_SQUEEZED_THROUGHOUT)
            if over or _factor(aspect, middle) > context.limit(MAP_SQUEEZED):
                yield texture, usage, aspect / middle


def _factor(one: float, other: float) -> float:
    return max(one / other, other / one)


def _aspect(texture: Texture) -> float:
    """Return the width of a texture divided by its height; 1 if the size is unknown."""
    width, height = texture.facts.size or (1, 1)
    return width / height


CHECK = Check(
    id="map-aspect",
    title="Map aspects",
    severity=Severity.NOTE,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The aspect ratio of a texture is far from the ratio that the surface requires, or the maps of one "
        "material have different aspect ratios. Only the reference frame is checked. The number of pixels doesn't "
        "matter.",
        after_import="Flat artwork, such as lettering or a circle in a logo, looks squeezed. A texture that was "
        "painted on the surface looks right.",
        what_to_do="Draw flat artwork with the aspect ratio that the surface requires. `meshqc fit` prints this ratio.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(MAP_ASPECTS, MAP_SQUEEZED, MAP_SQUEEZED_THROUGHOUT, ASPECT_SPREAD),
)
