"""Trim a loop to one cycle by dropping later frames that repeat it, such as a copy of the first frame at the end."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.output_frames import OutputFrames
from inspector.fixes.base.same_mesh import same_mesh
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text

_SHORTEST = 3
"""Minimum number of frames in a cycle. Two alternating frames don't count as a motion."""


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[frozenset[Fraction]]:
    """Find the length of one cycle. Every frame after the first cycle must equal the frame one cycle earlier.

    Returns:
        A step whose `work` contains the numbers of the frames to drop.

    Raises:
        Refusal: Frames are missing, repeated, empty or unreadable; the sequence doesn't repeat; or nothing moves.
    """
    series = context.series
    numbers = all_numbers(context)
    if len(numbers) < len(series.facts) or series.sequence.gaps or not all(one.filled for one in series.facts):
        raise Refusal(
            "frames are missing, repeated, empty or unreadable, so it can't be determined whether the sequence loops"
        )
    length = _length(context)
    if length is None:
        raise Refusal("the sequence does not loop: nothing moves, or no later frame starts a second cycle")
    kept, dropped = numbers[:length], numbers[length:]
    return Step(
        FIX.id,
        {"length": length},
        numbers,
        f"keep one cycle, frames {frame_text(kept[0])} to {frame_text(kept[-1])}; drop {numbers_text(dropped)}, which "
        f"{'repeats' if len(dropped) == 1 else 'repeat'} it",
        (Change("frames", f"{len(numbers)}", f"{length}"),),
        work=frozenset(dropped),
    )


def _length(context: CheckContext) -> int | None:
    """Return the number of frames in the shortest cycle; None if the sequence doesn't repeat or nothing moves."""
    facts = context.series.facts
    for length in range(_SHORTEST, len(facts)):
        boxes = all(facts[index].box == facts[index - length].box for index in range(length, len(facts)))
        if boxes and all(_equal(context, index, index - length) for index in range(length, len(facts))):
            return None if all(one.box == facts[0].box for one in facts) and _still(context) else length
    return None


def _equal(context: CheckContext, one: int, other: int) -> bool:
    """Return whether two frames are the same mesh. The files are read only if the faces are the same."""
    facts = context.series.facts
    return facts[one].topology == facts[other].topology and same_mesh(context.frame(one), context.frame(other))


def _still(context: CheckContext) -> bool:
    return all(one.still for one in context.series.facts[1:])


def edit_output(outputs: OutputFrames, step: Step[frozenset[Fraction]], _: CheckContext) -> OutputFrames:
    return tuple(output for output in outputs if output.number not in step.work)


FIX = Fix(
    id="trim-loop",
    title="Trim to one cycle of the loop",
    kind=FixKind.LOSSLESS,
    does="Keeps the first cycle and removes all frames that repeat it, so that no frame is shown twice in a row when "
    "the sequence loops.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.FILES}),
    plan=plan,
    whole=True,
    edit_output=edit_output,
)
