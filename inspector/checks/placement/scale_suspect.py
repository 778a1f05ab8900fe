"""Objects of the wrong size.

The size isn't the stated size, or differs from the size in another sequence by the conversion factor between two units.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.jumps import in_other_unit
from inspector.checks.base.mixed_units import mixed_units
from inspector.checks.base.sizes import SAME_SIZE, STATED_SIZE, UNIT_FACTORS, agrees, unit_error, units_of
from inspector.names import amount
from inspector.sequence.discovery.frame_ranges import numbers_text


def run(context: CheckContext) -> Iterator[Finding]:
    if mixed_units(context):
        raise NotApplicable("the frames are in different units")
    factor = unit_error(context)
    others = [] if factor is None else in_other_unit(context, factor)
    size, stated = context.series.reference_size, context.settings.size
    if factor is not None and stated is not None:
        message = (
            f"the object is {amount(size, 'unit')} long, {_times(factor)} the stated size of {stated:.4g}; this is the "
            f"factor between {units_of(factor)}"
        )
        yield _finding(context, Severity.ERROR, factor, message, others)
    elif factor is not None:
        message = (
            f"the object is {_times(factor)} its size in another sequence of the same model; this is the factor "
            f"between {units_of(factor)}"
        )
        yield _finding(context, Severity.WARNING, factor, message, others)
    elif stated is not None and not agrees(size, stated, context.limit(STATED_SIZE)):
        ratio = size / stated
        message = (
            f"the object is {amount(size, 'unit')} long, {_times(ratio)} the stated size of {stated:.4g}; this is not "
            "the factor between two units"
        )
        yield _finding(context, Severity.NOTE, ratio, message)


def _times(factor: float) -> str:
    return f"{factor:.4g} times" if factor >= 1 else f"1/{1 / factor:.4g} of"


def _finding(
    context: CheckContext, severity: Severity, factor: float, message: str, others: Sequence[int] = ()
) -> Finding:
    """Make the finding. A fix is offered only if all frames are wrong by the same conversion factor between two units.

    `factor` is the ratio of the object's size to the expected size. `others` contains the indices of the frames that
    are in a different unit.
    """
    right = set(context.numbers(list(others)))
    numbers = tuple(dict.fromkeys(facts.number for facts in context.series.facts if facts.number not in right))
    measured = {"size": context.series.reference_size, "factor": factor}
    if right:
        message += f"; {numbers_text(sorted(right))} {'is' if len(right) == 1 else 'are'} in a different unit"
    fixes = () if right or severity is Severity.NOTE else CHECK.fixes
    return Finding(CHECK.id, severity, message, numbers, (), measured, fixes)


CHECK = Check(
    id="scale-suspect",
    title="Suspicious scale",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The object's size differs from the stated size, or from its size in another sequence of the same model. "
        "The ratio is often the factor between two units (metre, centimetre, millimetre, inch or foot).",
        after_import="The object is tiny, or so large that it encloses the camera. Lights, depth and motion blur are "
        "wrong.",
        what_to_do="If the ratio is the factor between two units, use the fix `scale`, which scales all frames and "
        "their motion. Otherwise, check the stated size.",
    ),
    run=run,
    fixes=("scale",),
    thresholds=(UNIT_FACTORS, STATED_SIZE, SAME_SIZE),
)
