"""Faces with an area on the surface and none in the texture."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.arrays import Indices
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import signed_uv_areas, without_uv
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, problem_places, same_layout
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.surface.islands import face_materials
from inspector.surface.shapes import face_areas
from inspector.surface.uv_layout import lay_out


def run(context: CheckContext) -> Iterator[Finding]:
    frames = same_layout(context)
    base = context.series.reference_facts
    fault = base.problem("uv-collapsed")
    if fault is None:
        return
    shares, faces = _collapsed(context.reference_frame)
    reported = {name: share for name, share in shares.items() if share > limits.COLLAPSED_SHARE}
    if not reported:
        return
    partly = {name: share for name, share in reported.items() if share < 1.0 - limits.COLLAPSED_SHARE}
    point = base.uv_box is not None and base.uv_box[:2] == base.uv_box[2:]
    name, share = next(iter((partly or reported).items()))
    of = "" if name is None else f" of material `{name}`"
    extent = "all are at one point" if point else f"{share:.1%} of the surface{of}"
    yield Finding(
        CHECK.id,
        Severity.WARNING if partly or point else Severity.NOTE,
        f"{count_of(faces, 'face')} without area in the texture: {extent}",
        context.numbers(frames),
        problem_places(context, [(frames[0], fault)], "face"),
        {"faces": faces, "share": round(share, 4)},
    )


@np.errstate(over="ignore", invalid="ignore")  # faces with numbers that overflow weigh nothing
def _collapsed(frame: Frame) -> tuple[dict[Name | None, float], int]:
    """Of each material the share of its surface without area in the texture, and how many faces that are."""
    area = face_areas(frame)
    area[~np.isfinite(area)] = 0.0
    names, material = face_materials(frame)
    collapsed = lay_out(frame.corners, frame.uvs, None).collapsed
    collapsed = collapsed[area[collapsed] > 0.0]
    whole = np.bincount(material, area, len(names))
    lost = np.bincount(material[collapsed], area[collapsed], len(names))
    return {name: float(lost[at] / whole[at]) for at, name in enumerate(names) if whole[at] > 0.0}, len(collapsed)


def _affected(frame: Frame, _: Frame | None) -> Indices:
    """The faces without area in the texture that have a UV at every corner."""
    whole = np.setdiff1d(np.arange(frame.faces), without_uv(frame))
    return np.asarray(whole[signed_uv_areas(frame)[whole] == 0.0])


CHECK = Check(
    id="uv-collapsed",
    title="Faces without area in the texture",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The corners of a face are at one point or on one line of the texture. If that holds for a whole "
        "material, it probably takes its colours from a palette, which is healthy. Beside faces with an area, or "
        "everywhere at one point, it is a projection seen edge-on, or UVs that were never laid out.",
        after_import="Such faces show one colour, or the texture smeared into stripes.",
        what_to_do="Lay out the UVs of these faces in the scene and export again.",
    ),
    run=run,
    thresholds=("COLLAPSED_SHARE", "NO_AREA"),
    affected_faces=_affected,
)
