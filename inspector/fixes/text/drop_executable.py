"""Remove statements that would include a file or run a program when the frame is read."""

from __future__ import annotations

from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.checks.base.helpers import count_of
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, DataChange, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.text_edit import Draft
from inspector.formats.frame import Frame
from inspector.formats.wavefront.statements import ACTING_STATEMENTS
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text

_KIND = "executable-statement"


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the frames that have executable statements.

    Raises:
        Refusal: There is no such frame, or a chosen frame doesn't exist or can't be read.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if one.problem(_KIND))) if frames is None else frames
    found = [
        (index, problem)
        for index in readable_indices(context, wanted)
        if (problem := facts[index].problem(_KIND)) is not None
    ]
    if not found:
        raise Refusal("no frame has an executable statement")
    numbers = context.numbers([index for index, _ in found])
    total = sum(problem.count for _, problem in found)
    first, problem = found[0]
    label = f"frame {frame_text(facts[first].number)}, line {problem.places[0].line}"
    keyword = problem.places[0].text
    return Step(
        FIX.id,
        {},
        numbers,
        f"remove {count_of(total, 'executable statement')} from {numbers_text(numbers)}",
        (Change(label, keyword.display if keyword else "", ""),),
        work=None,
    )


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    draft = Draft(frame)
    for number in draft.blocks(*ACTING_STATEMENTS):
        draft.put(number, [])
    return draft.done()


FIX = Fix(
    id="drop-executable",
    title="Remove executable statements",
    kind=FixKind.CHANGES_DATA,
    changes=frozenset({DataChange.DROPS}),
    does="Removes the lines that would include another file (call) or run a command (csh).",
    cost="The frames no longer include the content of other files. Readers that ignore the removed statements never "
    "included this content.",
    touches=ACTING_STATEMENTS,
    claims=frozenset({Claim.EXECUTABLE_STATEMENTS}),
    plan=plan,
    edit_frame=edit_frame,
)
