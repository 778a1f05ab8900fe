"""Materials whose opacity readers may interpret in opposite ways."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Spot, UsedMaterial, named, spot_finding, used_materials
from inspector.formats.format import Trait
from inspector.formats.wavefront.library_lines import Statement
from inspector.formats.wavefront.map_options import is_number
from inspector.threshold import Threshold

OPACITY_DIFFERENCE = Threshold(
    "opacity-difference",
    0.01,
    "How far `d` and `1 - Tr` may differ: rounding to two decimals makes less, and a smaller difference is not seen.",
)

_HOW = {
    "disagree": (Severity.WARNING, "gives its opacity as `d` and its transparency as `Tr`, and these disagree"),
    "invisible": (Severity.WARNING, "is fully transparent (`d 0`)"),
    "only Tr": (Severity.NOTE, "gives its opacity as `Tr` alone, which readers interpret in opposite ways"),
}


def run(context: CheckContext) -> Iterator[Finding]:
    met: dict[str, list[tuple[UsedMaterial, Statement]]] = {}
    for material in used_materials(context):
        judged = _judge(material)
        if judged is not None:
            met.setdefault(judged[0], []).append((material, judged[1]))
    for kind, places in met.items():
        severity, how = _HOW[kind]
        spots = [Spot(material.where(statement), material.indices) for material, statement in places]
        message = f"material {named(material.definition.name for material, _ in places)} {how}"
        yield spot_finding(context, CHECK.id, severity, message, spots, {"kind": kind})


def _judge(material: UsedMaterial) -> tuple[str, Statement] | None:
    dissolve, transparency = material.last(b"d"), material.last(b"tr")
    d, tr = _value(dissolve), _value(transparency)
    if tr is not None and transparency is not None:
        if d is None:
            return ("only Tr", transparency) if abs(tr - 0.5) > OPACITY_DIFFERENCE.value else None
        if abs(d + tr - 1.0) > OPACITY_DIFFERENCE.value:
            return "disagree", transparency
    if d is not None and dissolve is not None and d <= 0.0 and material.last(b"map_d") is None:
        return "invisible", dissolve
    return None


def _value(statement: Statement | None) -> float | None:
    """The factor, the last word: `d -halo 0.5` has an option before it (MTL File Formats 4.2, 1995)."""
    words = statement.rest.split()[:2] if statement is not None else []
    if words[:1] == [b"-halo"]:
        words = words[1:]
    return float(words[0]) if words and is_number(words[0]) else None


CHECK = Check(
    id="opacity-unclear",
    title="Opacity unclear",
    severity=Severity.WARNING,
    needs=(Trait.LIBRARIES,),
    rationale=Rationale(
        what="The format knows `d`, where 1 is opaque. `Tr` came later: most take it as 1 - d, some write it as d.",
        after_import="The surface may be solid, half transparent, or not there at all.",
        what_to_do="Keep `d` alone in the library, with 1 for an opaque surface, or set the opacity in the export.",
    ),
    run=run,
    thresholds=(OPACITY_DIFFERENCE,),
)
