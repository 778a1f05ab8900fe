"""Write all frame numbers with the same number of digits, or number the frames consecutively."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of, number_shift
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import all_numbers
from inspector.fixes.base.output_frames import OutputFrame, OutputFrames, numbered_file, source_frames
from inspector.fixes.base.parameters import number_of, typed
from inspector.sequence.discovery.frame_ranges import numbers_text

_USUAL_PADDING = 4  # if numbers have no padding; most programs write and expect it (common practice, no source)
_MOST_PADDING = 20


@dataclass(frozen=True, slots=True)
class Numbering:
    """How frames are numbered.

    Attributes:
        padding: Minimum number of digits before the decimal point.
        start: New number of the first frame; None if the frames keep their numbers.
    """

    padding: int
    start: int | None


def plan(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step[Numbering]:
    """Find the padding and the new number of the first frame, from the parameter `start` or from `_stated_start`.

    Raises:
        Refusal: A parameter is wrong, or no frame would get a new file name.
    """
    start = _whole(parameters, "start", _stated_start(context))
    largest = max(facts.number for facts in context.series.facts)
    own = context.series.sequence.padding
    padding = _whole(parameters, "padding", own if own > 1 else max(_USUAL_PADDING, len(str(int(largest)))))
    if padding is None or not 1 <= padding <= _MOST_PADDING:
        raise Refusal(f"padding must be from 1 to {_MOST_PADDING} digits")
    numbering = Numbering(padding, start)
    outputs = source_frames(context.series)
    repeated = _repeated(outputs) if start is None else set()
    pairs = zip(outputs, _renamed(outputs, numbering, context), strict=True)
    renamed = [(old, new) for old, new in pairs if old != new and old.number not in repeated]
    if not renamed and repeated:
        raise Refusal(
            f"{numbers_text(repeated)}: several files have the same number; {typed(FIX.id, 'start=1')} renumbers "
            "all files in order"
        )
    if not renamed:
        raise Refusal("no file name would change")
    what = f"number the frames from {start} on" if start is not None else "keep the frame numbers"
    return Step(
        FIX.id,
        {"padding": padding, **({} if start is None else {"start": start})},
        all_numbers(context),
        f"{what}, with {count_of(padding, 'digit')}: {count_of(len(renamed), 'new file name')}",
        tuple(Change("file", old.file.display, new.file.display) for old, new in renamed),
        work=numbering,
    )


def _stated_start(context: CheckContext) -> int | None:
    """Return the first number of the stated range, if all frame numbers are too large or too small by the same amount.

    Otherwise, return None. Also return None if the first number of the stated range is negative or a sub-frame.
    """
    if context.settings.expected is None or number_shift(context) is None:
        return None
    first = context.settings.expected[0]
    return first.numerator if first.denominator == 1 and first >= 0 else None


def _whole(parameters: Parameters, key: str, default: int | None) -> int | None:
    value = number_of(parameters, key)
    if value is None:
        return default
    if value != int(value) or value < 0:
        raise Refusal(f"{key} must be a whole number of at least 0, not {value:g}")
    return int(value)


def edit_output(outputs: OutputFrames, step: Step[Numbering], context: CheckContext) -> OutputFrames:
    """Give each frame its new file name.

    Raises:
        Refusal: Two frames would get the same file name.
    """
    renamed = _renamed(outputs, step.work, context)
    files = Counter(output.file for output in renamed)
    twice = {output.number for output in renamed if files[output.file] > 1}
    if twice:
        raise Refusal(
            f"{numbers_text(twice)}: several files have the same number; {typed(FIX.id, 'start=1')} renumbers all "
            "files in order"
        )
    return renamed


def _repeated(outputs: OutputFrames) -> set[Fraction]:
    return {number for number, count in Counter(output.number for output in outputs).items() if count > 1}


def _renamed(outputs: OutputFrames, numbering: Numbering, context: CheckContext) -> OutputFrames:

    def name(order: int, output: OutputFrame) -> OutputFrame:
        number = output.number if numbering.start is None else Fraction(numbering.start + order)
        return replace(output, file=numbered_file(context.series.sequence, number, numbering.padding))

    return tuple(name(order, output) for order, output in enumerate(outputs))


FIX = Fix(
    id="renumber",
    title="Renumber and pad",
    kind=FixKind.LOSSLESS,
    does="Writes all frame numbers with the same number of digits. With start=N, the frames are renumbered "
    "consecutively from N.",
    cost="",
    touches=frozenset(),
    claims=frozenset({Claim.NUMBERS}),
    plan=plan,
    parameters={
        "start": "new number of the first frame; default: the first number of the stated range (--frames) if all frame "
        "numbers are shifted from the range by the same amount; otherwise, the frames keep their numbers",
        "padding": "number of digits of a frame number; default: as many as now or, if the frame numbers are not "
        f"padded, at least {_USUAL_PADDING}",
    },
    whole=True,
    edit_output=edit_output,
)
