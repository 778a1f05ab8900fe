"""Faces that have collapsed to a line or a point."""

from __future__ import annotations

from collections.abc import Iterator

from inspector import limits
from inspector.arrays import Indices
from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.counts import mesh_changes_throughout
from inspector.checks.base.faults import fault_finding, faults, varies
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, these_frames, usable
from inspector.checks.base.topology_changes import sound_surface
from inspector.formats.frame import Frame
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.shapes import NO_AREA, face_shapes
from inspector.threshold import Threshold

ZERO_AREA_SHARE = Threshold(
    "zero-area-share",
    0.002,
    "The finding can be a warning only if at least this share of a frame's faces have no area. A smaller share is a "
    "note, because a few slivers at the limit of rounding, among thousands of faces, are invisible (common practice, "
    "no source).",
    "of the faces",
)


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    if not base.faces:
        raise NotApplicable("there are no faces")
    throughout = mesh_changes_throughout(context)
    followed = usable(context) if throughout else sound_surface(context)
    frames = [index for index in followed if _in_bounds(context.series.facts[index])]
    met = faults(context, "zero-area-face", frames)
    if not met:
        return
    always = varies(context, "zero-area-face", frames) == 0 or (throughout and len(met) == len(frames))
    own = set(context.unexplained(index for index, _ in met))
    met = [(index, problem) for index, problem in met if index in own]
    if not met:
        return
    every = "every frame" if len(met) == len(frames) else f"{len(met)} of {len(frames)} frames"
    on_these = f"without area on {these_frames(met)}"
    words = f"without area on {every}, probably already in the model" if always else on_these
    few = max(problem.count / context.series.facts[index].faces for index, problem in met) < ZERO_AREA_SHARE.value
    severity = Severity.NOTE if always or few else Severity.WARNING
    yield fault_finding(context, CHECK.id, severity, met, words, fixes=() if always else CHECK.fixes)


def _in_bounds(facts: FrameFacts) -> bool:
    """Whether the surface of a frame has an area above 0, and all coordinates are small enough for single precision.

    Other frames are not judged, because a mesh may grow from a point, and `number-forms` reports large coordinates.
    """
    return facts.area > 0.0 and facts.box is not None and max(map(abs, facts.box)) <= limits.SINGLE_LARGEST.value


def _affected(frame: Frame, _: Frame | None) -> Indices:
    """Return the zero-area faces that use no vertex twice, as ascending zero-based indices, (k,)."""
    return face_shapes(frame, closed=False).zero_area


CHECK = Check(
    id="zero-area-faces",
    title="Faces without area",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The corners of a face are on one line or at one point, although they are different vertices.",
        after_import="Such a face has no normal. Smooth shading shows black or glittering specks on the face, and "
        "creases beside it. A face that collapses only on some frames flickers.",
        what_to_do="On these frames, look for a deformation that moves the corners of these faces onto one point or "
        "one line. If the model itself has such faces, merge their points in the model.",
    ),
    run=run,
    fixes=("fill-frames",),
    thresholds=(ZERO_AREA_SHARE, NO_AREA, limits.SINGLE_LARGEST),
    affected_faces=_affected,
    explained_by=("few-decimals",),  # rounding moves the corners of thin faces onto a line
)
