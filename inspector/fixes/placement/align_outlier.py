"""Give outlier frames the position and size that their neighbours suggest."""

from __future__ import annotations

import math
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.jumps import JUMP_DIAGONALS, JUMP_SIZE, centre_jumps, size_jumps
from inspector.checks.base.mixed_units import mixed_units
from inspector.checks.base.sizes import SAME_FACTOR, unit_factor
from inspector.errors import Refusal
from inspector.fixes.base.fix import Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.precision import needed_decimals, position_decimals
from inspector.fixes.base.preview import position_changes
from inspector.formats.frame import Frame
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.series import Series


@dataclass(frozen=True, eq=False)
class Settling:
    """A change of position and size: (positions - centre) * factor + target.

    Attributes:
        centre: Centre of the frame, (3,), in scene units.
        factor: Factor by which the size changes.
        target: New centre of the frame, (3,), in scene units.
    """

    centre: Floats
    factor: float
    target: Floats

    def move(self, positions: Floats) -> Floats:
        """Return moved and scaled positions, (n, 3)."""
        return (positions - self.centre) * self.factor + self.target


@dataclass(frozen=True)
class Realignment:
    """The planned changes to the outliers.

    Attributes:
        settlings: The change to each outlier, by frame number.
        decimals: Number of decimal places that positions need.
    """

    settlings: dict[Fraction, Settling]
    decimals: int


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[Realignment]:
    """Plan the changes that match outliers to their neighbours.

    If the user chose frames, these frames are changed. Otherwise, the frames that the check `centre-jump` or the check
    `size-jump` reports are changed.

    Raises:
        Refusal: There is no outlier; a chosen frame is not an outlier, doesn't exist or can't be read; or an outlier
            has zero size, or doesn't have an intact neighbour on each side.
    """
    series = context.series
    wanted = _outliers(context) if frames is None else frames
    indices = readable_indices(context, wanted)
    if not indices:
        raise Refusal("no frame is an outlier")
    settlings = {series.facts[index].number: _settling(context, index, set(indices)) for index in indices}
    first = settlings[series.facts[indices[0]].number]
    summary = f"match the position and size of {numbers_text(settlings)} to those of the neighbouring frames"
    if mixed_units(context):
        summary = f"convert {numbers_text(settlings)} to the unit of the other frames"
    return Step(
        FIX.id,
        {
            "moves": {
                frame_text(number): [one.factor, *(one.target - one.centre).tolist()]
                for number, one in settlings.items()
            }
        },
        tuple(settlings),
        summary,
        position_changes(context, indices[0], first.move),
        work=Realignment(settlings, needed_decimals(series)),
    )


def _outliers(context: CheckContext) -> tuple[Fraction, ...]:
    mixed = mixed_units(context)
    if mixed:
        return context.numbers(sorted(mixed))
    found: set[int] = set()
    for rows, jumps in (centre_jumps(context, _away(context)), size_jumps(context, _ratio(context))):
        found |= {rows[hit] for hit in jumps.outliers}
    return context.numbers(sorted(found))


def _away(context: CheckContext) -> float:
    return context.of_check("centre-jump").limit(JUMP_DIAGONALS)


def _ratio(context: CheckContext) -> float:
    return context.of_check("size-jump").limit(JUMP_SIZE)


def _settling(context: CheckContext, index: int, outliers: set[int]) -> Settling:
    """Interpolate the position and size of a frame between its neighbours.

    The position changes only if it is off by more than the check `centre-jump` allows. The size changes only if it is
    off by more than the check `size-jump` allows. If the frame is in a different unit, all positions are multiplied by
    the factor between the units instead.

    Raises:
        Refusal: Neither the position nor the size is off by more than allowed, or the frame has zero size or doesn't
            have an intact neighbour on each side.
    """
    series, mixed = context.series, mixed_units(context)
    if index in mixed:
        return Settling(np.zeros(3), 1 / mixed[index], np.zeros(3))
    before, after, share = _neighbours(series, index, outliers)
    centre, size = series.centres[index], float(series.diagonals[index])
    target = series.centres[before] * (1 - share) + series.centres[after] * share
    wanted = math.exp(math.log(series.diagonals[before]) * (1 - share) + math.log(series.diagonals[after]) * share)
    factor = wanted / size if max(wanted / size, size / wanted) > _ratio(context) else 1.0
    base = series.diagonals[index if series.reference_index is None else series.reference_index]
    near = float(np.linalg.norm(target - centre)) <= _away(context) * float(base)
    if near and factor == 1.0:
        number = frame_text(series.facts[index].number)
        raise Refusal(f"the position and size of frame {number} already match those of its neighbours")
    unit = unit_factor(size / wanted, SAME_FACTOR.value) if factor != 1.0 else None
    if unit is not None and float(np.linalg.norm(target - centre / unit)) <= _away(context) * float(base):
        return Settling(np.zeros(3), 1 / unit, np.zeros(3))  # exact: the frame was exported in another unit
    return Settling(centre, factor, centre if near else target)


def _neighbours(series: Series, index: int, outliers: set[int]) -> tuple[int, int, float]:
    """Return the indices of the nearest intact frames before and after a frame, and its position in time between them,
    from 0 to 1.

    Raises:
        Refusal: There is no such frame on one side, or the given frame has zero size.
    """
    number = series.facts[index].number
    good = [other for other in np.flatnonzero(series.usable & (series.diagonals > 0)) if other not in outliers]
    before = [int(other) for other in good if series.facts[other].number < number]
    after = [int(other) for other in good if series.facts[other].number > number]
    if not before or not after:
        raise Refusal(
            f"frame {frame_text(number)} has "
            f"{'an intact neighbour on one side only' if good else 'no intact neighbour'}"
        )
    if not series.diagonals[index] > 0:
        raise Refusal(f"frame {frame_text(number)} has zero size, so it can't be scaled")
    low, high = series.facts[before[-1]].number, series.facts[after[0]].number
    return before[-1], after[0], float((number - low) / (high - low))


def edit_frame(frame: Frame, step: Step[Realignment], number: Fraction) -> Frame:
    moved = step.work.settlings[number].move(frame.positions)
    return frame.replace(positions=moved, decimals=position_decimals(frame, step.work.decimals))


FIX = Fix(
    id="align-outlier",
    title="Match an outlier to its neighbours",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.ESTIMATES}),
    does="On each frame that is an outlier, moves or scales the object as a whole, to a position or size interpolated "
    "between the neighbouring frames. The shape of the object is unchanged. If such a frame was exported in another "
    "unit, all its positions are multiplied by the factor between the units instead.",
    cost="The object's true position and size on these frames are unknown. They are estimated from the neighbours.",
    touches=frozenset({b"v"}),
    claims=frozenset({Claim.POSITIONS}),
    plan=plan,
    edit_frame=edit_frame,
)
