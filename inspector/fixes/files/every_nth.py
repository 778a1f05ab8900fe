"""Keep every n-th frame."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.output_frames import OutputFrames
from inspector.fixes.base.parameters import number_of, typed
from inspector.sequence.discovery.frame_ranges import numbers_text


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[frozenset[Fraction]]:
    """Choose by frame number which frames to keep, so that a missing frame doesn't shift the choice.

    Returns:
        A step whose `work` contains the numbers of the frames to keep.

    Raises:
        Refusal: The parameter `n` is missing or not a whole number of at least 2, or only one frame would be left.
    """
    every = number_of(parameters, "n")
    if every is None:
        raise Refusal(f"no n was given; to keep every second frame, use {typed(FIX.id, 'n=2')}")
    if every != int(every) or every < 2:
        raise Refusal(f"n must be a whole number of at least 2, not {every:g}")
    numbers = all_numbers(context)
    first, step = numbers[0], context.series.sequence.step
    kept = [number for number in numbers if (number - first) % (step * int(every)) == 0]
    if len(kept) < 2:
        raise Refusal(f"only one frame of {len(numbers)} would be left; choose a smaller n")
    return Step(
        FIX.id,
        {"n": int(every)},
        numbers,
        f"keep one of every {int(every)} frames: {numbers_text(kept)}",
        (Change("frames", f"{len(numbers)}", f"{len(kept)}"),),
        work=frozenset(kept),
    )


def edit_output(outputs: OutputFrames, step: Step[frozenset[Fraction]], _: CheckContext) -> OutputFrames:
    return tuple(output for output in outputs if output.number in step.work)


FIX = Fix(
    id="every-nth",
    title="Keep every n-th frame",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Keeps the first frame and every n-th frame after it, with their original numbers. To close the gaps, also "
    "apply `renumber`.",
    cost="The frames in between are lost.",
    touches=frozenset(),
    claims=frozenset({Claim.FILES}),
    plan=plan,
    parameters={"n": "2 to keep every second frame, 3 to keep every third frame, and so on"},
    required=frozenset({"n"}),
    whole=True,
    edit_output=edit_output,
)
