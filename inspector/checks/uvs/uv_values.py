"""UV coordinates that differ although their indices are equal."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from inspector import limits
from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.face_sets import with_other_uvs
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_with_uvs, files, same_faces
from inspector.checks.base.uv_compare import corner_uvs, moving_uvs
from inspector.formats.format import Trait

DIFFERENCE = replace(limits.UV_DIFFERENCE, settable=True)


def run(context: CheckContext) -> Iterator[Finding]:
    series, base = context.series, base_with_uvs(context)
    if moving_uvs(context):
        return  # reported by uv-swimming
    by_values: dict[bytes, list[int]] = {}
    for index in same_faces(context):
        facts = series.facts[index]
        if facts.uv_indices == base.uv_indices and facts.uv_values != base.uv_values:
            by_values.setdefault(facts.uv_values, []).append(index)
    wanted = corner_uvs(context.reference_frame) if by_values else np.empty((0, 2))
    other: list[int] = []
    largest = 0.0
    for indices in by_values.values():
        with np.errstate(over="ignore"):
            difference = float(np.abs(corner_uvs(context.frame(indices[0])) - wanted).max())
        if not difference <= context.limit(DIFFERENCE):
            other += indices
            largest = max(largest, difference) if np.isfinite(difference) else largest
    if not other:
        return
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"UV coordinates differ from the reference by up to {largest:.4g} texture widths",
        context.numbers(sorted(other)),
        files(context, sorted(other)),
        {"largest": largest},
        CHECK.fixes,
    )


CHECK = Check(
    id="uv-values",
    title="UV coordinates differ",
    severity=Severity.WARNING,
    needs=(Trait.UVS,),
    rationale=Rationale(
        what="The corners use the same UV indices as in the reference, but the coordinates are different.",
        after_import="The texture slides over the surface on these frames.",
        what_to_do="If that is not meant, restore the coordinates from the reference frame.",
    ),
    run=run,
    fixes=("uv-restore",),
    thresholds=(DIFFERENCE,),
    affected_faces=with_other_uvs,
)
