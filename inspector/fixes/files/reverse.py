"""Play the sequence backwards."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.output_frames import OutputFrames


def plan(context: CheckContext, _: Parameters, __: tuple[Fraction, ...] | None) -> Step[None]:
    """Check that the order of the frames can be reversed.

    Raises:
        Refusal: There is only one frame, or frames are missing or repeated.
    """
    facts = context.series.facts
    numbers = all_numbers(context)
    if len(numbers) < 2:
        raise Refusal("the sequence has only one frame, so its order can't be reversed")
    if len(numbers) < len(facts):
        raise Refusal("several files have the same frame number; remove the extra files first")
    if context.series.sequence.gaps:
        raise Refusal("frames are missing; fill them first")
    names = [context.series.facts[index].file.name.display for index in (0, -1)]
    return Step(
        FIX.id,
        {},
        numbers,
        f"reverse the order of {len(numbers)} frames",
        (Change("first frame", names[0], f"content of {names[1]}"),),
        work=None,
    )


def edit_output(outputs: OutputFrames, _: Step[None], __: CheckContext) -> OutputFrames:
    return tuple(replace(frame, file=place.file) for place, frame in zip(outputs, reversed(outputs), strict=True))


FIX = Fix(
    id="reverse",
    title="Play backwards",
    kind=FixKind.LOSSLESS,
    does="Reverses the order of the frames: the last frame gets the first number. The content of the frames is "
    "unchanged.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.NUMBERS}),
    plan=plan,
    whole=True,
    edit_output=edit_output,
)
