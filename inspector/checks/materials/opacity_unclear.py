"""Materials whose opacity may be interpreted in opposite ways by different readers."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.libraries import Spot, Subject, UsedMaterial, spot_finding, used_materials
from inspector.formats.format import Trait
from inspector.formats.wavefront.library_lines import Statement
from inspector.formats.wavefront.opacity import OPACITY_DIFFERENCE, lone_tr, number_of

_HOW = {
    "disagree": (
        Severity.WARNING,
        "{0:has an opacity (`d`) and a transparency (`Tr`) that disagree/"
        "have opacities (`d`) and transparencies (`Tr`) that disagree}",
    ),
    "invisible": (Severity.WARNING, "{0:is/are} fully transparent (`d 0`)"),
    "Tr 1": (
        Severity.WARNING,
        "{0:has/have} only `Tr 1`, which makes the surface invisible in some readers and opaque in others",
    ),
    "only Tr": (
        Severity.NOTE,
        "{0:gives its/give their} opacity only as `Tr`, which readers interpret in opposite ways",
    ),
}


def run(context: CheckContext) -> Iterator[Finding]:
    met: dict[tuple[str, bool], list[tuple[UsedMaterial, Statement]]] = {}
    for material in used_materials(context):
        judged = _judge(material)
        if judged is not None:
            met.setdefault((judged[0], material.inside), []).append((material, judged[1]))
    for (kind, inside), places in met.items():
        severity, how = _HOW[kind]
        how = f"{{0:comes/come}} from a library in which {{0:it/they}} {how}" if inside else how
        spots = [Spot(material.where(statement), material.indices) for material, statement in places]
        subject = Subject("material", (material.definition.name for material, _ in places))
        message = f"{subject} {how.format(subject)}"
        fixes = CHECK.fixes if "Tr" in kind else ()
        yield spot_finding(context, CHECK.id, severity, message, spots, {"kind": kind}, fixes)


def _judge(material: UsedMaterial) -> tuple[str, Statement] | None:
    dissolve, transparency = material.last(b"d"), material.last(b"tr")
    d, tr = number_of(dissolve), number_of(transparency)
    if (alone := lone_tr(material.statements)) is not None:
        hidden = tr is not None and tr >= 1.0 - OPACITY_DIFFERENCE.value  # invisible if the number means transparency
        return "Tr 1" if hidden else "only Tr", alone
    both = d is not None and tr is not None
    if both and transparency is not None and abs((d or 0.0) + (tr or 0.0) - 1.0) > OPACITY_DIFFERENCE.value:
        return "disagree", transparency
    if d is not None and d <= 0.0 and dissolve is not None and not (material.inside or material.last(b"map_d")):
        return "invisible", dissolve
    return None


CHECK = Check(
    id="opacity-unclear",
    title="Opacity unclear",
    severity=Severity.WARNING,
    needs=(Trait.SURFACES,),
    rationale=Rationale(
        what="In the format, `d` is the opacity, where 1 is opaque. `Tr` is a later extension. Most programs use it "
        "for the transparency (1 - d), but some use it for the opacity (d). Here, a material has only `Tr`, has a `Tr` "
        "that disagrees with `d`, or is fully transparent (`d 0`).",
        after_import="The surface may be opaque, semi-transparent or invisible.",
        what_to_do="Keep only `d` in the library, with 1 for an opaque surface, or set the opacity in the scene and "
        "export again. If a corrected copy is written in another format, a material with `Tr 1` and without `d` "
        "becomes opaque. Copies in GLB and OpenUSD also record that the opacity is uncertain.",
    ),
    run=run,
    fixes=("opacity-statement",),
    thresholds=(OPACITY_DIFFERENCE,),
)
