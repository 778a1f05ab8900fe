"""A size that is off by a factor between units."""

from __future__ import annotations

import math
from collections.abc import Iterator

from inspector.checks.base.check import Check, NotApplicable, Rationale
from inspector.checks.base.context import CheckContext
from inspector.checks.base.finding import Finding, Severity
from inspector.checks.base.sizes import STATED_SIZE, UNIT_FACTORS, agrees, unit_factor, units_of
from inspector.sequence.series import Series
from inspector.threshold import Threshold

SAME_SIZE = Threshold(
    "same-size",
    1.05,
    "Ratio of reference sizes up to which two sequences of one model count as equally large, or as larger by just a "
    "factor between units. Poses differ a little; fish of one school differ by more (common practice, no source).",
)


def run(context: CheckContext) -> Iterator[Finding]:
    size = context.series.reference_size
    if not (math.isfinite(size) and size > 0):
        raise NotApplicable("the reference frame has no size")
    if context.settings.size is not None:
        yield from _against_stated(context, size, context.settings.size)
        return
    twins = [other for other in context.siblings if _same_model(context, other)]
    if not twins:
        raise NotApplicable("no stated size (--size), and no other sequence of the same model to compare with")
    yield from _against_twins(context, size, [other.reference_size for other in twins])


def _against_stated(context: CheckContext, size: float, stated: float) -> Iterator[Finding]:
    factor = unit_factor(size / stated)
    if factor is not None:
        yield _finding(
            context,
            Severity.ERROR,
            size,
            factor,
            f"{size:.4g} units long where {stated:.4g} was stated: {_times(factor)}, as between {units_of(factor)}",
            CHECK.fixes,
        )
    elif not agrees(size, stated, context.limit(STATED_SIZE)):
        yield _finding(
            context,
            Severity.NOTE,
            size,
            size / stated,
            f"{size:.4g} units long where {stated:.4g} was stated: {_times(size / stated)}, no factor between units",
            (),
        )


def _against_twins(context: CheckContext, size: float, others: list[float]) -> Iterator[Finding]:
    """The sequences that agree with most of their twins are right; of two that differ the odd one can't be told.

    Twins are measured, not stated, so the factor must fit closely: a school has fish of many sizes.
    """
    agree = [other for other in others if agrees(size, other, SAME_SIZE.value)]
    factors = [factor for other in others if (factor := unit_factor(size / other, SAME_SIZE.value)) is not None]
    if len(factors) > len(agree):
        factor = factors[0]
        yield _finding(
            context,
            Severity.WARNING,
            size,
            factor,
            f"{_times(factor)} the size of another sequence of the same model, as between {units_of(factor)}",
            CHECK.fixes,
        )


def _same_model(context: CheckContext, other: Series) -> bool:
    base = context.series.reference_facts
    return other.reference_index is not None and base.faces > 0 and other.reference_facts.topology == base.topology


def _times(factor: float) -> str:
    return f"{factor:.4g} times" if factor >= 1 else f"1/{1 / factor:.4g} of"


def _finding(
    context: CheckContext, severity: Severity, size: float, factor: float, message: str, fixes: tuple[str, ...]
) -> Finding:
    numbers = tuple(dict.fromkeys(facts.number for facts in context.series.facts))
    return Finding(CHECK.id, severity, message, numbers, (), {"size": size, "factor": factor}, fixes)


CHECK = Check(
    id="scale-suspect",
    title="Scale suspect",
    severity=Severity.ERROR,
    rationale=Rationale(
        what="The object's size is off by just the factor that lies between two units (metre, centimetre, inch, foot).",
        after_import="The object is a speck or swallows the camera; lights, depth and motion blur are wrong.",
        what_to_do="Use the fix that scales: one constant for all frames, so that the motion scales with it.",
    ),
    run=run,
    fixes=("scale",),
    thresholds=(UNIT_FACTORS, STATED_SIZE, SAME_SIZE),
)
