"""Faces on which the texture is mirrored."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.arrays import Indices
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import MIRRORED_SHARE, signed_uv_areas
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import files, same_layout
from inspector.checks.base.topology_changes import VOLUME_SHARE, mirrored_frames, side_of
from inspector.formats.format import Trait
from inspector.formats.frame import Frame
from inspector.sequence.measure.facts import FrameFacts
from inspector.surface.connections import connect, is_closed
from inspector.surface.shapes import face_shapes


def run(context: CheckContext) -> Iterator[Finding]:
    frames = same_layout(context)
    base = context.series.reference_facts
    if _against_normals(base):
        return  # the front of the faces is unknown; reversed-normals reports these faces
    mirrored = context.series.reference_index in mirrored_frames(context)  # the check `winding` reports that
    inward = side_of(base) > 0 if mirrored else side_of(base) < 0
    share = 1.0 - base.uv_mirrored if inward else base.uv_mirrored  # as seen from outside
    least = context.limit(MIRRORED_SHARE)
    if share <= least:
        return
    if share <= 0.5 and base.problem("coincident-face"):
        return  # one of two faces that are back to back is always mirrored; coincident-faces reports them
    whole = share >= 1.0 - least
    yield Finding(
        CHECK.id,
        Severity.NOTE,
        "the texture is mirrored on the whole surface" if whole else f"{share:.0%} of the UV layout is mirrored",
        context.numbers(frames),
        files(context, frames),
        {"mirrored": round(share, 4)},
        CHECK.fixes if whole else (),
    )


def _against_normals(base: FrameFacts) -> bool:
    """Whether most of the reference frame's faces have reversed normals (normals that point to the back)."""
    against = base.problem("reversed-normal")
    return against is not None and against.count > base.faces / 2


def _affected(frame: Frame, _: Frame | None) -> Indices:
    """Return the faces that are mirrored as seen from outside, as ascending zero-based indices, (k,)."""
    areas = signed_uv_areas(frame)
    return np.flatnonzero(areas > 0.0 if _is_inside_out(frame) else areas < 0.0)


def _is_inside_out(frame: Frame) -> bool:
    """Whether the surface is closed and its faces point inward."""
    found = connect(frame.corners, len(frame.positions))
    closed = is_closed(found.components, found.boundary_edges, found.non_manifold_edges)
    return closed and side_of(face_shapes(frame, closed)) < 0


CHECK = Check(
    id="uv-mirrored",
    title="Mirrored UVs",
    severity=Severity.NOTE,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The corners of a face run in opposite directions in the texture and on the surface. The halves of a "
        "symmetric object often share a texture in this way. If the whole surface is mirrored, the usual cause is an "
        "export that reversed an axis.",
        after_import="Lettering and logos read backwards on the mirrored parts. However, a texture that was painted "
        "for these UVs looks as intended.",
        what_to_do="Keep lettering off mirrored parts, or draw the lettering mirrored. If the whole surface is "
        "mirrored and no texture has been painted yet, mirror the UVs.",
    ),
    run=run,
    fixes=("uv-mirror",),
    thresholds=(MIRRORED_SHARE, VOLUME_SHARE),
    affected_faces=_affected,
)
