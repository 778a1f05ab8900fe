"""Faces with normals that point to the back."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.faults import fault_finding, faults
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, usable_where
from inspector.checks.base.topology_changes import mirrored_frames, sound_surface
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.formats.problems import Problem
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.shapes import AGAINST_COSINE, face_areas, face_shapes
from inspector.threshold import Threshold

TURNED_SHARE = Threshold(
    "turned-share",
    0.9,
    "All normals of a frame count as reversed if, on at least this share of the faces that have normals, the normals "
    "point to the back. The threshold is below 1, because in folds, a reversed smoothed normal may point to the front. "
    "The threshold is not lower, because reversing all normals would then damage many that are correct.",
)

REVERSED_SHARE = Threshold(
    "reversed-share",
    0.002,
    "The finding is a warning if normals point to the back on at least this share of the surface. A smaller share is "
    "only a note, because smoothed normals in sharp folds of intact meshes reach a share of 0.001, which is hardly "
    "visible (common practice, no source).",
    settable=True,
)


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    if not usable_where(context, lambda facts: facts.faces_without_normals < facts.faces):
        raise NotApplicable("no face has normals")
    mirrored = mirrored_frames(context)  # the check `winding` reports these frames
    met = faults(context, "reversed-normal", [index for index in sound_surface(context) if index not in mirrored])
    whole = [pair for pair in met if _nearly_all(context.series.facts[pair[0]], pair[1])]
    some = [pair for pair in met if pair not in whole]
    for group, fixes in ((whole, CHECK.fixes), (some, ())):
        if group:
            worst, _ = max(group, key=lambda pair: pair[1].count)
            share = _share(context.frame(worst))
            words = f"with reversed normals ({share:.2%} of the surface)"
            severity = Severity.WARNING if share >= context.limit(REVERSED_SHARE) else Severity.NOTE
            yield fault_finding(context, CHECK.id, severity, group, words, fixes=fixes)


@np.errstate(over="ignore", invalid="ignore")  # faces whose area overflows don't count
def _share(frame: Frame) -> float:
    """Return the share of the surface on which normals point to the back of the face, 0 to 1.

    The result is 0 if the surface has no area, or if the sum of the face areas overflows.
    """
    area = face_areas(frame)
    area[~np.isfinite(area)] = 0.0
    whole = float(area.sum())
    return float(area[face_shapes(frame, closed=False).against].sum()) / whole if 0.0 < whole < np.inf else 0.0


def _nearly_all(facts: FrameFacts, against: Problem) -> bool:
    """Whether nearly all normals of a frame are reversed, so that reversing all of them repairs the frame."""
    return against.count >= TURNED_SHARE.value * (facts.faces - facts.faces_without_normals)


def _affected(frame: Frame, _: Frame | None) -> Indices:
    return face_shapes(frame, closed=False).against


CHECK = Check(
    id="reversed-normals",
    title="Normals against the winding",
    severity=Severity.WARNING,
    needs=(Trait.NORMALS,),
    rationale=Rationale(
        what="The winding of a face defines which side is its front, but the normals at two or more of its corners "
        "point to the other side. Either the winding or the normals are wrong.",
        after_import="The surface is lit from the wrong side or has black patches. If back faces aren't drawn, the "
        "surface has holes. To decide which side of a face is the front, some renderers use the winding, and others "
        "use the normals.",
        what_to_do="In the scene, make the normals of these faces point outward, and look for objects mirrored by a "
        "negative scale. Then export again. If all normals of a frame are reversed, the fix turns all of them around.",
    ),
    run=run,
    fixes=("flip-normals",),
    thresholds=(REVERSED_SHARE, AGAINST_COSINE, TURNED_SHARE),
    affected_faces=_affected,
)
