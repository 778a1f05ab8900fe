"""Replace decimal commas with decimal points."""

from __future__ import annotations

import re
from collections.abc import Iterator
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.text_edit import Draft
from inspector.formats.frame import Frame
from inspector.formats.wavefront.statements import NUMBER_STATEMENTS
from inspector.names import safe
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text

_KIND = "decimal-comma"
_WITH_COMMA = re.compile(rb"[-+]?[0-9]+(?:,[0-9]*)?(?:[eE][-+]?[0-9]+)?")
_KEYWORDS = tuple(NUMBER_STATEMENTS)


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the frames in which numbers are written with decimal commas.

    Raises:
        Refusal: There is no such frame, a chosen frame doesn't exist or can't be read, or a frame with
            decimal commas also contains a number that is written in a different way.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if one.problem(_KIND))) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if facts[index].problem(_KIND) is not None]
    if not indices:
        raise Refusal("no number has a decimal comma")
    changes = [_checked(context.frame(index), frame_text(facts[index].number)) for index in indices]
    numbers = context.numbers(indices)
    return Step(
        FIX.id,
        {},
        numbers,
        f"write the numbers of {numbers_text(numbers)} with a decimal point instead of a comma",
        tuple(changes),
        work=None,
    )


def _checked(frame: Frame, number: str) -> Change:
    """Check that each number of a frame has a decimal comma or no decimal places.

    Return the first line that changes, as it is before and after the change.

    Raises:
        Refusal: A number is written in a different way, so commas may separate numbers or thousands.
    """
    first: tuple[bytes, int] | None = None
    for body, line in _numbered(frame):
        for word in body.split(b"#")[0].split()[1:]:
            if not _WITH_COMMA.fullmatch(word):
                text = safe(word[:40].decode("utf-8", "replace"))
                raise Refusal(
                    f"frame {number}, line {line}: {text} is not written with a decimal comma, unlike other numbers; "
                    "commas in this frame may separate numbers or thousands"
                )
        if first is None and b"," in body:
            first = body, line
    assert first is not None
    before, line = first
    return Change(
        f"frame {number}, line {line}", *(one.decode("ascii", "replace") for one in (before, _pointed(before)))
    )


def _numbered(frame: Frame) -> Iterator[tuple[bytes, int]]:
    draft = Draft(frame)
    for number in draft.blocks(*_KEYWORDS):
        first = frame.blocks[number].first_line
        yield from ((body, first + offset) for offset, (body, _) in enumerate(draft.lines(number)))


def _pointed(body: bytes) -> bytes:
    numbers, mark, comment = body.partition(b"#")
    return numbers.replace(b",", b".") + mark + comment


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    draft = Draft(frame)
    for number in draft.blocks(*_KEYWORDS):
        draft.put(number, [(_pointed(body), end) for body, end in draft.lines(number)])
    return draft.done()


FIX = Fix(
    id="decimal-commas",
    title="Write decimal commas as points",
    kind=FixKind.LOSSLESS,
    does="Replaces decimal commas with decimal points, on frames where no number has a decimal point.",
    cost="",
    touches=frozenset(NUMBER_STATEMENTS),
    claims=frozenset({Claim.DECIMAL_SIGNS}),
    plan=plan,
    edit_frame=edit_frame,
)
