"""Parts of the texture that the surface shows more than once."""

from __future__ import annotations

from collections.abc import Iterator

from inspector.checks.base.check import Check, CheckScope, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity, Where
from inspector.checks.base.helpers import same_layout
from inspector.checks.base.island_overlap import STACKED_SHARE, island_overlap
from inspector.formats.element_lines import face_line
from inspector.formats.format import Trait
from inspector.surface.uv_layout import UV_TILES
from inspector.threshold import Threshold

OVERLAP_SHARE = Threshold(
    "overlap-share",
    0.01,
    "An overlap is reported if more than this share of the used part of the texture is shown more than once. Smaller "
    "overlaps don't matter, because they are at seams or corners, where no lettering is placed.",
)


def run(context: CheckContext) -> Iterator[Finding]:
    frames = same_layout(context)
    base = context.series.reference_facts
    if base.uv_overlap is None:
        raise NotApplicable(
            f"the UVs extend over more than {UV_TILES.value} squares, so the texture is probably a repeated pattern"
        )
    if base.uv_overlap <= OVERLAP_SHARE.value or base.uv_box is None:
        return
    overlap = island_overlap(context.reference_frame, base.uv_box)
    whole = overlap.stacked + overlap.partly
    if whole <= OVERLAP_SHARE.value:
        return
    partly = overlap.partly > OVERLAP_SHARE.value
    stacked = f" ({overlap.stacked:.0%} where whole islands cover each other)" if overlap.stacked else ""
    line = face_line(context.reference_frame, overlap.face)
    yield Finding(
        CHECK.id,
        Severity.WARNING if partly else Severity.NOTE,
        f"{whole:.0%} of the used part of the texture is shown more than once{stacked}",
        context.numbers(frames),
        (Where(context.file_name(frames[0]), line, f"face {overlap.face + 1}"),),
        {"overlap": round(whole, 4), "partly": round(overlap.partly, 4)},
    )


CHECK = Check(
    id="uv-overlap",
    title="UVs overlap",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="Several faces of one material use the same part of its texture. If whole islands cover each other "
        "(mirrored halves, repeated parts), the overlap is usually intended. If islands overlap only in part or fold "
        "over themselves, the overlap is usually a mistake.",
        after_import="Anything painted or lettered on the shared part of the texture appears more than once on the "
        "surface.",
        what_to_do="If the overlap is a mistake, pack the UVs again in the scene. If it is intended, keep lettering "
        "and signs of wear off the shared parts.",
    ),
    run=run,
    scope=CheckScope.SEQUENCE,
    thresholds=(OVERLAP_SHARE, STACKED_SHARE, UV_TILES),
)
