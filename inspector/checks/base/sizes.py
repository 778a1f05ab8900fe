"""Compare sizes, and find the factor between two units that explains the ratio of two sizes."""

from __future__ import annotations

import math
from collections.abc import Mapping

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.sequence.series import Series
from inspector.threshold import Threshold

FEWEST_STEPS = Threshold(
    "fewest-steps",
    10_000,
    "Positions count as too coarse if there are fewer than this many steps along the object's diagonal. A step is the "
    "smallest difference that can be written with the decimal places of the file (`few-decimals`) or stored in single "
    "precision (`far-from-origin`). With fewer steps, slow movements look jerky, because there are fewer than three "
    "steps per pixel if the object fills a picture 4,000 pixels wide (common practice, no source).",
    "steps along the diagonal",
    settable=True,
)

UNIT_FACTORS: Threshold[Mapping[float, float]] = Threshold(
    "unit-factors",
    {10.0: 1.5, 100.0: 1.5, 1000.0: 1.5, 2.54: 1.15, 30.48: 1.15, 25.4: 1.15, 39.37: 1.15},
    "Factors between the units in which scenes are built, each with a tolerance. To test a factor, the stated size is "
    "multiplied by the factor. The tolerance is the maximum ratio between the result and the actual size. A tolerance "
    "is needed because a stated size is a rough figure, such as 1.8. For the factor 2.54, the tolerance is smaller. "
    "With a larger tolerance, an object that is three times as large as stated would seem to have been converted from "
    "inches to centimetres. The factors come from the SI prefixes (BIPM, SI brochure, 9th edition, table 7), the inch "
    "of 2.54 cm and the foot of 30.48 cm (exact since the international yard and pound agreement of 1959).",
)
STATED_SIZE = Threshold(
    "stated-size",
    1.15,
    "A size counts as equal to the stated size if the ratio between the two sizes is at most this value. Some "
    "difference is allowed, because sizes are stated only roughly.",
    settable=True,
)

SAME_SIZE = Threshold(
    "same-size",
    1.05,
    "Two sequences of one model count as equal in size if the ratio between their sizes is at most this value. Some "
    "difference is allowed, because poses of one model differ a little. Objects that have different sizes on purpose, "
    "such as the fish of a school, differ by more (common practice, no source). Two sequences can count as being in "
    "different units if their sizes are equal, within the same limit, after one size is multiplied by the factor "
    "between the units.",
)

SAME_FACTOR = Threshold(
    "same-factor",
    1.03,
    "A jump in size counts as a change of units if the factor of the jump differs from the factor between two units by "
    "at most this ratio. Some difference is allowed, because the motion also changes the size from frame to frame "
    "(common practice, no source).",
)


def agrees(size: float, other: float, ratio: float) -> bool:
    """Whether the ratio of the larger to the smaller of two sizes above 0 is at most `ratio` (1 or more)."""
    return 1 / ratio <= size / other <= ratio


_UNITS = {
    10.0: ("centimetres", "millimetres"),
    100.0: ("metres", "centimetres"),
    1000.0: ("metres", "millimetres"),
    2.54: ("inches", "centimetres"),
    25.4: ("inches", "millimetres"),
    30.48: ("feet", "centimetres"),
    39.37: ("metres", "inches"),
}
"""Factor -> two units. The first unit is longer than the second by this factor."""


def unit_factor(ratio: float, closest: float = math.inf) -> float | None:
    """Return the factor between units, such as 100, 0.01 or 2.54, that is closest to a ratio of sizes.

    The result is None if no factor is close enough. The larger of the factor and the ratio, divided by the smaller,
    must be at most `closest` (1 or more) and at most the factor's tolerance in UNIT_FACTORS.
    """
    best: tuple[float, float] | None = None
    for unit, rough in UNIT_FACTORS.value.items():
        for factor in (unit, 1 / unit):
            missed = max(ratio / factor, factor / ratio)
            if missed <= min(rough, closest) and (best is None or missed < best[0]):
                best = missed, factor
    return None if best is None else best[1]


def units_of(factor: float) -> str:
    """Return the two units for a factor from `unit_factor`, such as `metres and centimetres` for 100 or 0.01."""
    large, small = _UNITS[factor if factor > 1 else min(_UNITS, key=lambda unit: abs(unit * factor - 1.0))]
    return f"{large} and {small}"


def unit_error(context: CheckContext) -> float | None:
    """Find the factor between two units that explains why the reference frame is too large or too small.

    The frame's size is compared with the stated size or, if no size is stated, with the sizes of twins, which are other
    sequences of the same model. Twins show an error only if the twins that differ from the frame by a factor between
    units outnumber the twins that agree with the frame. The ratio of the frame's size to a twin's size must be very
    close to the factor, because sequences of one model may also have different sizes on purpose.

    Returns:
        The factor, such as 100, 0.01 or 2.54: above 1 if the reference frame is too large, below 1 if it is too small.
        None if the size is right, or if no factor between units explains the error.

    Raises:
        NotApplicable: The reference frame has no size, or there is nothing to compare it with.
    """
    size = context.series.reference_size
    if not (math.isfinite(size) and size > 0):
        raise NotApplicable("the size of the reference frame is zero or unknown")
    if context.settings.size is not None:
        return unit_factor(size / context.settings.size)
    others = [other.reference_size for other in context.siblings if _same_model(context.series, other)]
    if not others:
        raise NotApplicable(
            "no size is stated (--size), and there is no other sequence of the same model to compare with"
        )
    agree = [other for other in others if agrees(size, other, SAME_SIZE.value)]
    factors = [factor for other in others if (factor := unit_factor(size / other, SAME_SIZE.value)) is not None]
    return factors[0] if len(factors) > len(agree) else None


def _same_model(series: Series, other: Series) -> bool:
    base = series.reference_facts
    return other.reference_index is not None and base.faces > 0 and other.reference_facts.topology == base.topology
