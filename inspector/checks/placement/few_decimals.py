"""Positions with too few decimal places for the object's size."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector.checks.base.check import Check, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import count_of, files, usable_where
from inspector.checks.base.sizes import FEWEST_STEPS
from inspector.formats.format import Trait
from inspector.formats.frame import ABSENT, Frame
from inspector.names import amount
from inspector.sequence.measure.facts import FrameFacts
from inspector.threshold import Threshold

TICKING_VERTICES = Threshold(
    "ticking-vertices",
    100,
    "A low number of decimal places counts as rounding only if the mesh has at least this many vertices. Smaller "
    "meshes are left out, because they may have round coordinates on purpose.",
    "vertices",
    settable=True,
)
SLANTED_EDGES = Threshold(
    "slanted-edges",
    0.5,
    "A low number of decimal places counts as rounding only if at least this share of the edges are slanted (not "
    "parallel to an axis). A mesh with fewer slanted edges is left out, because it is made of blocks, whose points are "
    "on a grid on purpose.",
    "of the edges",
)


def run(context: CheckContext) -> Iterator[Finding]:
    series = context.series
    diagonal = 0.0 if series.reference_index is None else float(series.diagonals[series.reference_index])

    def coarse(facts: FrameFacts) -> bool:
        enough = facts.vertices >= context.limit(TICKING_VERTICES)
        return enough and 0 < diagonal * 10.0**facts.decimals < context.limit(FEWEST_STEPS)

    found = usable_where(context, coarse)
    if not found or _made_of_blocks(context.frame(found[0])):
        return
    worst = min(found, key=lambda index: series.facts[index].decimals)
    decimals = series.facts[worst].decimals
    diagonal = float(series.diagonals[worst])  # on that frame, the object's size may differ from the reference frame's
    steps = diagonal * 10.0**decimals
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"positions have {count_of(decimals, 'decimal place')}: the object's diagonal of {amount(diagonal, 'unit')} is "
        f"only {amount(steps, 'rounding step', ',.0f')} long",
        context.numbers(found),
        files(context, found),
        {"decimals": decimals, "steps": steps, "diagonal": diagonal},
    )


def _made_of_blocks(frame: Frame) -> bool:
    """Whether most edges are parallel to an axis, as in meshes whose points are on a grid on purpose.

    The result is also True if there are no faces, or if a corner has no valid vertex.
    """
    corners = frame.corners
    if not len(corners.v) or (corners.v == ABSENT).any():
        return True
    next_corner = np.arange(1, len(corners.v) + 1)
    filled = corners.offsets[1:] > corners.offsets[:-1]
    next_corner[corners.offsets[1:][filled] - 1] = corners.offsets[:-1][filled]
    edges = frame.positions[corners.v[next_corner]] - frame.positions[corners.v]
    slanted = np.count_nonzero(edges, axis=1) > 1
    return bool(slanted.mean() < SLANTED_EDGES.value)


CHECK = Check(
    id="few-decimals",
    title="Too few decimal places for the size",
    severity=Severity.WARNING,
    needs=(Trait.STATEMENTS,),
    rationale=Rationale(
        what="Positions are rounded so coarsely that the object is only a few thousand steps across.",
        after_import="Smooth surfaces show facets in reflections, and slow movements jump from step to step.",
        what_to_do="Export with more decimal places (six are usual), or in a smaller unit so that the numbers are "
        "larger.",
    ),
    run=run,
    thresholds=(FEWEST_STEPS, TICKING_VERTICES, SLANTED_EDGES),
)
