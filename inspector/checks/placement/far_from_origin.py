"""Objects so far from the origin that single precision is too coarse for them."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from inspector import limits
from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.helpers import base_facts, files, usable_where
from inspector.checks.base.sizes import FEWEST_STEPS
from inspector.names import amount
from inspector.sequence.measure.facts import FrameFacts


def run(context: CheckContext) -> Iterator[Finding]:
    base_facts(context)
    diagonal = float(context.series.diagonals[context.series.reference_index or 0])
    if not diagonal > 0:
        raise NotApplicable("the size of the reference frame is zero or unknown")
    fewest = context.limit(FEWEST_STEPS)
    found = usable_where(context, lambda facts: diagonal < fewest * single_step(facts) < np.inf)
    if not found:
        return
    worst = max((context.series.facts[index] for index in found), key=single_step)
    step, far = single_step(worst), _farthest(worst)
    yield Finding(
        CHECK.id,
        Severity.WARNING,
        f"coordinates reach {amount(far, 'unit', ',.4g')}, where single-precision numbers have steps of "
        f"{amount(step, 'unit')}: the object's diagonal of {amount(diagonal, 'unit')} is only "
        f"{amount(diagonal / step, 'step', ',.0f')} long",
        context.numbers(found),
        files(context, found),
        {"far": far, "step": step, "steps": diagonal / step},
        CHECK.fixes,
    )


def _farthest(facts: FrameFacts) -> float:
    """Return the largest absolute coordinate of a frame, in scene units; 0 if the frame has no bounding box."""
    return 0.0 if facts.box is None else max(map(abs, facts.box))


def single_step(facts: FrameFacts) -> float:
    """Return the distance between neighbouring single-precision numbers at a frame's largest absolute coordinate.

    The result is in scene units. It is infinite if the coordinate is beyond the largest single-precision number (IEEE
    754, binary32).
    """
    far = _farthest(facts)
    return float(np.spacing(np.float32(far))) if far <= limits.SINGLE_LARGEST.value else np.inf


CHECK = Check(
    id="far-from-origin",
    title="Far from the origin",
    severity=Severity.WARNING,
    rationale=Rationale(
        what="The object is so far from the origin of the scene that single-precision numbers, which have about seven "
        "digits, are too coarse for its details. Most readers store positions in single precision.",
        after_import="Steps and cracks appear in the surface, points jitter as they move, and textures and shadows "
        "flicker.",
        what_to_do="Move the object close to the origin by the same offset on all frames. Move the camera by that "
        "offset too.",
    ),
    run=run,
    fixes=("align", "offset"),
    thresholds=(FEWEST_STEPS, limits.SINGLE_LARGEST),
)
