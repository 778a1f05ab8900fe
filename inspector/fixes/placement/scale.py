"""Scale all frames by the same factor."""

from __future__ import annotations

import math
from fractions import Fraction

from inspector.checks.base.check import NotApplicable
from inspector.checks.base.context import CheckContext
from inspector.checks.base.jumps import in_other_unit
from inspector.checks.base.mixed_units import mixed_units
from inspector.checks.base.sizes import UNIT_FACTORS, unit_error
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.parameters import number_of, typed, word_of
from inspector.fixes.base.precision import SMALLEST_DIAGONAL, needed_decimals, position_decimals
from inspector.fixes.base.preview import position_changes
from inspector.formats.frame import Frame
from inspector.names import amount
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.units import METRES

_LARGEST = 3.4e38
"""Maximum diagonal of the scaled mesh, in scene units: the largest float32 (IEEE 754-2019). Readers keep positions as
float32."""


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[int]:
    """Find the factor from the parameters or, without parameters, from the ratio of two units that explains the size.

    Returns:
        A step whose `work` is the number of decimal places that positions need.

    Raises:
        Refusal: No frame can be read, no factor follows from the parameters, the factor is 1 or is not above 0, or the
            scaled mesh would be too small or too large.
    """
    series = context.series
    base = series.reference_index
    if base is None:
        raise Refusal("no frame can be read")
    factor = _factor(context, parameters)
    if not factor > 0:
        raise Refusal(
            "a scale must be above 0: a negative scale would mirror the mesh, and 0 would collapse it to a point"
        )
    if factor == 1.0:
        raise Refusal("a scale of 1 changes nothing")
    size = series.reference_size
    scaled = float(series.diagonals[base]) * factor
    if 0 < scaled < SMALLEST_DIAGONAL or scaled > _LARGEST:
        raise Refusal(
            f"the object would be {amount(size * factor, 'unit', '.3g')} long, which is outside the range "
            "that files can hold"
        )
    return Step(
        FIX.id,
        {**parameters, "factor": factor},
        all_numbers(context),
        f"scale every frame by {factor:.6g}: the object's longest side in the reference frame changes from {size:.6g} "
        "to " + amount(size * factor, "unit", ".6g"),
        position_changes(context, base, lambda positions: positions * factor),
        work=needed_decimals(series, factor),
    )


def _factor(context: CheckContext, parameters: Parameters) -> float:
    """Find the factor from the first of these parameters that is given: the factor itself, two units, or a size.

    Without parameters, it is the ratio of two units that explains why the size differs from the expected size.

    Raises:
        Refusal: A parameter is wrong, the size of the reference frame is zero, or no ratio of two units explains the
            size of all frames.
    """
    factor = number_of(parameters, "factor")
    if factor is not None:
        return factor
    if "from" in parameters or "to" in parameters:
        return _between_units(parameters)
    size = number_of(parameters, "size")
    if size is None:
        return _unit_factor(context)
    current = context.series.reference_size
    if not current > 0:
        raise Refusal("the size of the reference frame is zero, so no scale can be computed from it")
    return size / current


def _between_units(parameters: Parameters) -> float:
    units = tuple(METRES)
    source, target = word_of(parameters, "from", units), word_of(parameters, "to", units)
    if source is None or target is None:
        raise Refusal(
            f"only one of the two units was given; use two of {', '.join(units)}, as in {typed(FIX.id, 'from=cm,to=m')}"
        )
    return float(METRES[source] / METRES[target])


def _unit_factor(context: CheckContext) -> float:
    try:
        error = unit_error(context)
    except NotApplicable as reason:
        raise Refusal(f"{reason}; give {_choices()}") from None
    if mixed_units(context):
        raise Refusal("the frames are in different units; the fix `align-outlier` converts them to one unit")
    if error is None:
        others = sorted({row for factor in UNIT_FACTORS.value for row in in_other_unit(context, factor)})
        if others:
            raise Refusal(
                "the size of the reference frame is right, but the unit changes within the sequence; export "
                f"{numbers_text(context.numbers(others))} again in the same unit"
            )
        raise Refusal(
            f"the size is not off by the factor between two units (such as 100 for m and cm); give {_choices()}"
        )
    if others := in_other_unit(context, error):
        raise Refusal(
            f"one scale for all frames would give {numbers_text(context.numbers(others))} a wrong size, because the "
            "unit changes within the sequence; export all frames again in the same unit"
        )
    return 1 / error


def _choices() -> str:
    return f"the scale, such as {typed(FIX.id, 'factor=0.01', 'from=cm,to=m', 'size=1.8')}"


def edit_frame(frame: Frame, step: Step[int], _: Fraction) -> Frame:
    factor = float(str(step.parameters["factor"]))
    more = max(0, math.ceil(-math.log10(factor) - 1e-9))  # 1e-9: 0.01 needs two more decimal places, not three
    return frame.replace(positions=frame.positions * factor, decimals=position_decimals(frame, step.work, more))


FIX = Fix(
    id="scale",
    title="Scale all frames",
    kind=FixKind.ONE_CONSTANT,
    does="Multiplies every position of every frame by the same factor, so that the motion scales with the object.",
    cost="",
    touches=frozenset({b"v"}),
    claims=frozenset({Claim.SCALE}),
    plan=plan,
    parameters={
        "factor": (
            "the scale factor, such as 0.01 for centimetres read as metres; default: computed from `from` and `to` or "
            "from `size`; if none of these is given, the factor of the unit conversion that corrects the wrong size"
        ),
        "from": f"unit of the export, one of {', '.join(METRES)}; required with `to`",
        "to": "unit of your scene, one of the units listed for `from`; required with `from`",
        "size": (
            "length of the object's longest side in the reference frame after scaling, in scene units; default: the "
            "length that follows from the factor or the units"
        ),
    },
    whole=True,
    edit_frame=edit_frame,
)
