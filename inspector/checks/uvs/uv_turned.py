"""Textures that are rotated on the surface."""

from __future__ import annotations

from collections.abc import Iterator

from inspector import limits
from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, same_layout
from inspector.checks.base.material_fit import ASPECT_SPREAD
from inspector.checks.base.textures import COLOUR, usages
from inspector.formats.format import Trait
from inspector.surface.text_direction import DIRECTION_SPREAD, FLAT_TILT, READ_TURN, Reading


def run(context: CheckContext) -> Iterator[Finding]:
    frames = same_layout(context)
    painted = {usage.map.map.material for usage in usages(context) if usage.keyword in COLOUR}
    if not painted:
        raise NotApplicable("no material has a colour map")
    readings = {name: fit.reading for name, fit in context.material_fits.items() if name in painted and fit.is_even}
    turned = {name: reading for name, reading in readings.items() if _is_turned(reading)}
    if not turned:
        return
    words = [f"lettering in the texture of material `{name}` reads {reading.words}" for name, reading in turned.items()]
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        f"in the reference frame, {'; '.join(words[: limits.PLACES_KEPT])}",
        context.numbers(frames),
        files(context, frames),
        {"materials": len(turned), "degrees": round(next(iter(turned.values())).turned)},
        CHECK.fixes,
    )


def _is_turned(reading: Reading) -> bool:
    """Whether lettering is rotated by about the same angle all over the surface, and by more than READ_TURN.

    The result is False if the surface lies flat.
    """
    return not reading.flat and reading.spread <= DIRECTION_SPREAD.value and abs(reading.turned) > READ_TURN.value


CHECK = Check(
    id="uv-turned",
    title="Rotated UVs",
    severity=Severity.NOTE,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="On an upright surface, the texture is sideways or upside down. Only the reference frame is judged, "
        "from the front of the faces, with y up.",
        after_import="Lettering and logos drawn upright in the texture appear sideways or upside down. However, a "
        "texture that was painted for these UVs looks as intended.",
        what_to_do="Rotate lettering and logos in the texture. If no texture has been painted for these UVs, rotate "
        "the UVs instead.",
    ),
    run=run,
    fixes=("uv-turn",),
    scope=CheckScope.SEQUENCE,
    thresholds=(READ_TURN, DIRECTION_SPREAD, FLAT_TILT, ASPECT_SPREAD),
)
