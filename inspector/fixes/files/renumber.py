"""Frame numbers in one form, or new ones."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frames import all_numbers
from inspector.fixes.base.output_frames import Slot, Slots, numbered_file, source_slots
from inspector.fixes.base.parameters import number_of
from inspector.sequence.discovery.frame_ranges import numbers_text

_USUAL_PADDING = 4  # of numbers that had none: what most programs write and expect (common practice, no source)
_MOST_PADDING = 20


def work_out(context: CheckContext, parameters: Parameters, _: tuple[Fraction, ...] | None) -> Step:
    start = _whole(parameters, "start", None)
    largest = max(facts.number for facts in context.series.facts)
    own = context.series.sequence.padding
    padding = _whole(parameters, "padding", own if own > 1 else max(_USUAL_PADDING, len(str(int(largest)))))
    if not 1 <= (padding or 0) <= _MOST_PADDING:
        raise Refusal(f"padding must be from 1 to {_MOST_PADDING} digits")
    known: dict[str, object] = {"padding": padding, "start": start}
    known = {key: value for key, value in known.items() if value is not None}
    step = Step(FIX.id, {**parameters, **known}, all_numbers(context), "")
    slots = source_slots(context.series)
    repeated = _repeated(slots) if start is None else set()
    pairs = zip(slots, _renamed(slots, step, context), strict=True)
    renamed = [(old, new) for old, new in pairs if old != new and old.number not in repeated]
    if not renamed and repeated:
        raise Refusal(f"{numbers_text(repeated)}: several files hold one number; start= numbers all anew, in order")
    if not renamed:
        raise Refusal("every frame has such a number already")
    what = f"from {start} on" if start is not None else "as they are"
    return replace(
        step,
        summary=f"number the frames {what}, with {padding} digits: {len(renamed)} new names",
        preview=tuple(Change("file", old.file.display, new.file.display) for old, new in renamed[:2]),
    )


def _whole(parameters: Parameters, key: str, default: int | None) -> int | None:
    value = number_of(parameters, key)
    if value is None:
        return default
    if value != int(value) or value < 0:
        raise Refusal(f"{key}={value:g} is not a whole number from 0 on")
    return int(value)


def apply(slots: Slots, step: Step, context: CheckContext) -> Slots:
    """Raises Refusal where two frames would get one name."""
    renamed = _renamed(slots, step, context)
    files = Counter(slot.file for slot in renamed)
    twice = {slot.number for slot in renamed if files[slot.file] > 1}
    if twice:
        raise Refusal(f"{numbers_text(twice)}: several files hold one number; start= numbers all anew, in order")
    return renamed


def _repeated(slots: Slots) -> set[Fraction]:
    return {number for number, count in Counter(slot.number for slot in slots).items() if count > 1}


def _renamed(slots: Slots, step: Step, context: CheckContext) -> Slots:
    padding, start = int(str(step.parameters["padding"])), step.parameters.get("start")

    def name(order: int, slot: Slot) -> Slot:
        number = slot.number if start is None else Fraction(int(str(start)) + order)
        return replace(slot, file=numbered_file(context.series.sequence, number, padding))

    return tuple(name(order, slot) for order, slot in enumerate(slots))


FIX = Fix(
    id="renumber",
    title="Renumber and pad",
    kind=FixKind.EXACT,
    does="Writes all frame numbers with equally many digits; with start= numbers the frames one by one from there.",
    cost="",
    touches=frozenset(),
    claims=frozenset({"numbers"}),
    work_out=work_out,
    parameters={"start": "number of the first frame; the others follow one by one", "padding": "digits of a number"},
    whole=True,
    slots=apply,
)
