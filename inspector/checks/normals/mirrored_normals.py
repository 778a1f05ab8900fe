"""Normal maps on surfaces that are partly mirrored in the texture."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.checks.base.check import Check, CheckScope, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import MIRRORED_SHARE
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, has_whole_uvs
from inspector.checks.base.libraries import Spot, Subject, spot_finding
from inspector.checks.base.textures import BUMP, NORMAL, Usage, textures
from inspector.formats.format import Trait
from inspector.names import Name
from inspector.surface.islands import face_materials
from inspector.surface.uv_layout import uv_areas


def run(context: CheckContext) -> Iterator[Finding]:
    usages = [
        usage
        for texture in textures(context)
        for usage in texture.used_as(NORMAL) + (texture.used_as(BUMP) if texture.facts.looks_like_normals else [])
    ]
    if not usages or not has_whole_uvs(base_facts(context)):
        return
    shares = _mirrored(context)
    least = context.limit(MIRRORED_SHARE)
    partly = [usage for usage in usages if least < shares.get(usage.map.map.material, 0.0) < 1.0 - least]
    if partly:
        yield _finding(context, partly, shares)


def _finding(context: CheckContext, usages: list[Usage], shares: dict[Name | None, float]) -> Finding:
    materials = [usage.map.map.material for usage in usages]
    subject = Subject("material", materials)
    most = max(shares[name] for name in materials)
    return spot_finding(
        context,
        CHECK.id,
        Severity.WARNING,
        f"{subject} {subject:has a normal map/have normal maps}, and {subject:/up to }{most:.0%} of "
        f"{subject:its/their} area in the texture is mirrored",
        [Spot(usage.spot.where, usage.indices) for usage in usages],
        {"mirrored": round(most, 4)},
    )


@np.errstate(over="ignore", invalid="ignore")  # faces whose area overflows don't count
def _mirrored(context: CheckContext) -> dict[Name | None, float]:
    """For each material of the reference frame, return the mirrored share of its area in the texture, 0 to 1.

    The key None is for faces without a material. Materials without an area in the texture are left out.
    """
    frame = context.reference_frame
    area = uv_areas(frame.corners, frame.uvs)
    names, material = face_materials(frame)
    whole = np.bincount(material, np.abs(area), len(names))
    turned = np.bincount(material, np.maximum(-area, 0.0), len(names))
    return {name: float(turned[at] / whole[at]) for at, name in enumerate(names) if whole[at] > 0.0}


CHECK = Check(
    id="mirrored-normals",
    title="Normal map on mirrored UVs",
    severity=Severity.WARNING,
    needs=(Trait.UVS, Trait.MATERIALS),
    rationale=Rationale(
        what="Part of the surface is mirrored in the texture, and the material has a normal map. On that part, a slope "
        "to the left in the map becomes a slope to the right.",
        after_import="On the mirrored part, bumps may look like dents. The lighting shows a seam where the mirrored "
        "part begins.",
        what_to_do="After the import, move a light around the object and look at the mirrored part. If it is lit "
        "wrongly, lay out the UVs without mirroring, or bake a separate map for this part.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(MIRRORED_SHARE,),
)
