"""UV coordinates that differ from the reference frame's, although the UV indices are the same."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from inspector import limits
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import with_other_uvs
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_with_uvs, count_of, files, same_faces
from inspector.checks.base.uv_compare import corner_uvs, moving_uvs
from inspector.formats.format import Trait
from inspector.formats.frame import Frame

DIFFERENCE = replace(limits.UV_DIFFERENCE, settable=True)


def run(context: CheckContext) -> Iterator[Finding]:
    series, base = context.series, base_with_uvs(context)
    if moving_uvs(context):
        return  # uv-swimming reports these frames
    by_values: dict[bytes, list[int]] = {}
    for index in same_faces(context):
        facts = series.facts[index]
        if facts.uv_indices == base.uv_indices and facts.uv_values != base.uv_values:
            by_values.setdefault(facts.uv_values, []).append(index)
    wanted = corner_uvs(context.reference_frame) if by_values else np.empty((0, 2))
    found: dict[int | None, list[int]] = {}
    largest: dict[int | None, float] = {}
    for indices in by_values.values():
        frame = context.frame(indices[0])
        with np.errstate(over="ignore"):
            difference = float(np.abs(corner_uvs(frame) - wanted).max())
        if difference <= context.limit(DIFFERENCE):
            continue
        decimals = _rounded_to(frame, context.reference_frame, difference)
        found.setdefault(decimals, []).extend(indices if decimals is None else context.unexplained(indices))
        finite = difference if np.isfinite(difference) else 0.0
        largest[decimals] = max(finite, largest.get(decimals, 0.0))
    for decimals, other in found.items():
        if other:
            rounded = "" if decimals is None else f" are rounded to {count_of(decimals, 'decimal place')} and"
            yield Finding(
                CHECK.id,
                Severity.WARNING,
                f"UV coordinates{rounded} differ from the reference frame's by up to {largest[decimals]:.4g} texture "
                "widths",
                context.numbers(sorted(other)),
                files(context, sorted(other)),
                {"largest": largest[decimals]},
                CHECK.fixes,
            )


def _rounded_to(frame: Frame, reference: Frame, difference: float) -> int | None:
    """Return the number of decimal places if a frame's UVs are the reference frame's UVs, rounded; otherwise None.

    `difference` is the largest difference in a coordinate, in texture widths.
    """
    decimals = frame.source_decimals.get(b"vt", 0)
    rounded = decimals < reference.source_decimals.get(b"vt", 0) and difference <= 0.500001 * 10.0**-decimals
    return decimals if rounded else None


CHECK = Check(
    id="uv-values",
    title="UV coordinates differ",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The corners use the same UV indices as in the reference frame, but the coordinates are different.",
        after_import="The texture slides over the surface on these frames.",
        what_to_do="If the texture isn't meant to slide, restore the coordinates from the reference frame.",
    ),
    run=run,
    fixes=("uv-restore",),
    explained_by=("few-decimals",),
    thresholds=(DIFFERENCE,),
    affected_faces=with_other_uvs,
)
