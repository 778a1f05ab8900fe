"""Faces that have an area on the surface but no area in the texture."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, problem_places, same_layout, usable
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.formats.problems import Problem
from inspector.names import Name
from inspector.surface.islands import face_materials
from inspector.surface.shapes import NO_AREA, face_areas
from inspector.surface.uv_layout import COLLAPSED_SHARE, lay_out
from inspector.threshold import Threshold

COLLAPSED_OF_SURFACE = Threshold(
    "collapsed-of-surface",
    0.05,
    "If faces without area in the texture make up at least this share of the whole surface, the finding is a warning. "
    "A smaller share may be intended, because caps and inner sides that were never meant to have a texture make up a "
    "few hundredths of the surface (common practice, no source).",
    settable=True,
)


@dataclass(frozen=True, slots=True)
class _Collapsed:
    """The faces of one material that have an area on the surface but no area in the texture.

    Attributes:
        faces: Number of these faces.
        share: Their share of the material's surface area, 0 to 1.
        of_surface: Their share of the whole surface area, 0 to 1.
    """

    faces: int
    share: float
    of_surface: float


def run(context: CheckContext) -> Iterator[Finding]:
    frames = same_layout(context)
    base = context.series.reference_facts
    fault = base.problem("uv-collapsed")
    if fault is None:
        return
    least = COLLAPSED_SHARE.value
    reported = {name: found for name, found in _collapsed(context.reference_frame).items() if found.share > least}
    if not reported:
        return
    partly = {
        name: found for name, found in reported.items() if found.share < 1.0 - least
    }  # the other materials take colours from a palette
    of_surface = sum(found.of_surface for found in partly.values())
    point = base.uv_box is not None and base.uv_box[:2] == base.uv_box[2:]
    name, most = max((partly or reported).items(), key=lambda item: item[1].of_surface)
    of = "" if name is None else f" of material `{name}`"
    extent = "all UVs are at one point" if point else f"{most.share:.1%} of the surface{of}"
    others = [index for index in usable(context) if index not in frames and _has_as_many(context, index, fault)]
    yield Finding(
        CHECK.id,
        Severity.WARNING if of_surface >= context.limit(COLLAPSED_OF_SURFACE) or point else Severity.NOTE,
        f"{count_of(most.faces, 'face')} without area in the texture: {extent}",
        context.numbers(sorted([*frames, *others])),
        problem_places(context, [(frames[0], fault)], "face"),
        {"faces": most.faces, "share": round(most.share, 4), "of_surface": round(of_surface, 4)},
    )


def _has_as_many(context: CheckContext, index: int, fault: Problem) -> bool:
    """Whether a frame's share of faces without area in the texture is more than half of the reference frame's share."""
    facts, base = context.series.facts[index], context.series.reference_facts
    found = facts.problem("uv-collapsed")
    return found is not None and found.count / facts.faces > 0.5 * fault.count / base.faces


@np.errstate(over="ignore", invalid="ignore")  # faces whose area overflows don't count
def _collapsed(frame: Frame) -> dict[Name | None, _Collapsed]:
    """Measure, for each material that has an area on the surface, the faces without an area in the texture.

    The key None is for faces without a material.
    """
    area = _areas(frame)
    names, material = face_materials(frame)
    collapsed = _without_area(frame, area)
    whole = np.bincount(material, area, len(names))
    lost = np.bincount(material[collapsed], area[collapsed], len(names))
    count = np.bincount(material[collapsed], minlength=len(names))
    return {
        name: _Collapsed(int(count[at]), float(lost[at] / whole[at]), float(lost[at] / area.sum()))
        for at, name in enumerate(names)
        if whole[at] > 0.0
    }


def _areas(frame: Frame) -> Floats:
    """Return the areas of the faces, (f,), in square scene units; 0 for a face whose area is unknown or overflows."""
    area = face_areas(frame)
    area[~np.isfinite(area)] = 0.0
    return area


def _without_area(frame: Frame, area: Floats) -> Indices:
    """Return the faces that have an area on the surface but no area in the texture.

    The result contains ascending zero-based indices, (k,). A face without a finite UV at every corner is left out.
    """
    collapsed = lay_out(frame.corners, frame.uvs, None).collapsed
    return np.asarray(collapsed[area[collapsed] > 0.0])


@np.errstate(over="ignore", invalid="ignore")
def _affected(frame: Frame, _: Frame | None) -> Indices:
    return _without_area(frame, _areas(frame))


CHECK = Check(
    id="uv-collapsed",
    title="Faces without area in the texture",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The corners of a face are at one point or on one line of the texture. If this is true of all faces of a "
        "material, the material probably takes its colours from a palette, which is harmless. Otherwise, the UVs were "
        "projected edge-on or were never laid out.",
        after_import="These faces show a single colour, or the texture is smeared into stripes.",
        what_to_do="Lay out the UVs of these faces in the scene, and export again.",
    ),
    run=run,
    thresholds=(COLLAPSED_SHARE, COLLAPSED_OF_SURFACE, NO_AREA),
    affected_faces=_affected,
)
