"""Frames in which faces show their backs, because the winding is reversed or the points are mirrored."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import with_other_corners
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, part_of
from inspector.checks.base.topology_changes import (
    MIRROR_KEEPS,
    VOLUME_SHARE,
    WINDING,
    changed_places,
    inside_out_frames,
    mirrored_frames,
    reported_by,
)
from inspector.checks.base.turned import MIRROR_BETTER, MIRROR_FACTOR, MIRROR_FLAT, MIRROR_MISS
from inspector.checks.base.whole_surfaces import SIDE_SHARE, odd_edges
from inspector.formats.format import Trait


def run(context: CheckContext) -> Iterator[Finding]:
    base = base_facts(context)
    turned = reported_by(context, WINDING)
    if turned:
        most = max(change.count for change in turned.values())
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            f"{part_of(most, base.faces, 'face')} {'is' if most == 1 else 'are'} reversed compared with the reference "
            "frame",
            context.numbers(list(turned)),
            changed_places(context, turned),
            {"kind": "faces", "faces": most},
            CHECK.fixes,
        )
    mirrored = mirrored_frames(context)
    if mirrored:
        yield Finding(
            CHECK.id,
            Severity.ERROR,
            "the points are mirrored but the faces are not, so the faces show their backs",
            context.numbers(mirrored),
            files(context, mirrored),
            {"kind": "mirrored", "volume": context.series.facts[mirrored[0]].volume, "reference": base.volume},
            CHECK.fixes,
        )
    yield from _changing_meshes(context)


def _changing_meshes(context: CheckContext) -> Iterator[Finding]:
    """Report inside-out surfaces and partly reversed faces in a mesh whose topology changes from frame to frame."""
    for kind, words, frames in (
        ("inside out", "the closed surface is inside out, unlike on the other frames", inside_out_frames(context)),
        (
            "opposed",
            "some faces are reversed compared with neighbouring faces, unlike on the other frames",
            odd_edges(context, lambda facts: facts.opposed_edges),
        ),
    ):
        if frames:
            yield Finding(
                CHECK.id, Severity.ERROR, words, context.numbers(frames), files(context, frames), {"kind": kind}
            )


CHECK = Check(
    id="winding",
    title="Winding flipped",
    severity=Severity.ERROR,
    needs=(Trait.SHARED,),
    rationale=Rationale(
        what="The corners of a face are listed counter-clockwise, as seen from the front of the face. On these frames, "
        "the order is reversed or the points are mirrored.",
        after_import="Faces turn black, or vanish if back faces aren't drawn. Lights and bevels affect the wrong side.",
        what_to_do="Look for a negative scale or a reversed mesh on these frames, and export the frames again. Or let "
        "the fix `fill-frames` estimate single frames from their neighbours.",
    ),
    run=run,
    fixes=("flip-winding", "fill-frames"),
    thresholds=(VOLUME_SHARE, SIDE_SHARE, MIRROR_KEEPS, MIRROR_MISS, MIRROR_BETTER, MIRROR_FLAT, MIRROR_FACTOR),
    affected_faces=with_other_corners,
)
