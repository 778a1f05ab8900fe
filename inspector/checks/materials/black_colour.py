"""Colour maps that are multiplied by black."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Spot, Subject, UsedMaterial, spot_finding, used_materials
from inspector.formats.format import Trait
from inspector.formats.wavefront.map_options import is_number


def run(context: CheckContext) -> Iterator[Finding]:
    black = [material for material in used_materials(context) if _is_black(material)]
    if not black:
        return
    spots = [
        Spot(material.where(colour), material.indices)
        for material in black
        if (colour := material.last(b"kd")) is not None
    ]
    names = [material.definition.name for material in black]
    subject = Subject("material", names)
    message = f"{subject} {subject:multiplies its colour map/multiply their colour maps} by black (Kd 0 0 0)"
    yield spot_finding(context, CHECK.id, Severity.WARNING, message, spots, {"materials": len(set(names))})


def _is_black(material: UsedMaterial) -> bool:
    """Whether the material multiplies its colour map by a black Kd (MTL File Formats 4.2, 1995).

    If the green and blue values of Kd are missing, they are equal to the red value.
    """
    colour = material.last(b"kd")
    if colour is None or material.last(b"map_kd") is None:
        return False
    values = colour.rest.split()[:3]
    return bool(values) and all(is_number(value) and float(value) == 0.0 for value in values)


CHECK = Check(
    id="black-colour",
    title="Black colour under a colour map",
    severity=Severity.WARNING,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="A material has a colour map, but the colour of the material is black (`Kd 0 0 0`). The format multiplies "
        "the map by this colour.",
        after_import="The surface is black in readers that follow the format, and textured in other readers.",
        what_to_do="Set Kd to `1 1 1` in the library, or set the material's base colour to white and export again.",
    ),
    run=run,
)
