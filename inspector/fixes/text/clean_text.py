"""Rewrite the text of frames in a form that every reader accepts."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.fixes.base.fix import Change, Claim, Fix, FixKind, Parameters, Step
from inspector.fixes.base.frame_numbers import readable_indices
from inspector.fixes.base.text_edit import Draft, Line
from inspector.formats.frame import Frame
from inspector.formats.problems import KINDS
from inspector.formats.wavefront.statements import BYTE_ORDER_MARK, FACE_STATEMENTS, KNOWN, NUMBER_STATEMENTS
from inspector.sequence.discovery.frame_ranges import numbers_text
from inspector.sequence.discovery.settings import frame_text
from inspector.sequence.measure.facts import FrameFacts

_LINE_ENDS = ("mixed-newlines", "bare-returns", "no-final-newline")
_PROBLEMS = (
    *_LINE_ENDS,
    "byte-order-mark",
    "utf-16",
    "continued-line",
    "capital-statement",
    "trailing-comment",
    "empty-index",
    "deprecated-statement",
)
_EMPTY_SLOT = re.compile(rb"(?<=[0-9])/+(?=[ \t]|\Z)")
_SUPERSEDED = re.compile(rb"\A([ \t]*)fo(?=[ \t])")
_DATA = frozenset(NUMBER_STATEMENTS) | FACE_STATEMENTS


def plan(context: CheckContext, _: Parameters, frames: tuple[Fraction, ...] | None) -> Step[None]:
    """Find the frames whose text has a problem that this fix corrects.

    Raises:
        Refusal: There is no such frame; a chosen frame doesn't exist or can't be read; or a frame with wrong line
            endings has an unknown statement, whose line ending the fix can't change.
    """
    facts = context.series.facts
    wanted = tuple(dict.fromkeys(one.number for one in facts if _kinds(one))) if frames is None else frames
    indices = [index for index in readable_indices(context, wanted) if _kinds(facts[index])]
    if not indices:
        raise Refusal("the text of every frame is already clean")
    for index in indices:
        _refuse_unknown(facts[index])
    numbers = context.numbers(indices)
    kinds = dict.fromkeys(kind for index in indices for kind in _kinds(facts[index]))
    return Step(
        FIX.id,
        {},
        numbers,
        f"clean the text in {numbers_text(numbers)}",
        tuple(Change(KINDS[kind], "some", "none") for kind in kinds),
        work=None,
    )


def _kinds(facts: FrameFacts) -> list[str]:
    """Return the kinds of a frame's problems that this fix corrects. Deprecated statements are included only if all of
    them are `fo`."""
    found = [problem for problem in facts.problems if facts.filled and problem.kind in _PROBLEMS]
    return [
        problem.kind
        for problem in found
        if problem.kind != "deprecated-statement"
        or all(place.text and place.text.raw == b"fo" for place in problem.places)
    ]


def _refuse_unknown(facts: FrameFacts) -> None:
    unknown = facts.problem("unknown-statement")
    if unknown is not None and any(kind in _LINE_ENDS for kind in _kinds(facts)):
        line = unknown.places[0].line
        raise Refusal(
            f"frame {frame_text(facts.number)}, line {line}: {KINDS['unknown-statement']}; the line would be copied "
            "with its line ending unchanged, so correct or remove the line first"
        )


def edit_frame(frame: Frame, _: Step[None], __: Fraction) -> Frame:
    draft = Draft(frame)
    newline = _usual_end(draft)
    for number, block in enumerate(draft.frame.blocks):
        if block.keyword not in KNOWN:
            continue
        if block.keyword == BYTE_ORDER_MARK:
            draft.put(number, [])
            continue
        lines = [(body, newline) for body, _ in draft.lines(number)]
        draft.put(number, list(_plain(lines)) if block.keyword in _DATA else lines)
    return replace(draft.done(), encoding=None)


def _usual_end(draft: Draft) -> bytes:
    """Return CRLF if most line endings are CRLF, otherwise LF."""
    data = draft.frame.data
    pairs = data.count(b"\r\n")
    return b"\r\n" if 2 * pairs > max(data.count(b"\n"), data.count(b"\r")) else b"\n"


def _plain(lines: list[Line]) -> Iterator[Line]:
    """Yield lines of data without empty indices, and with `f` in place of `fo`. Trailing comments become separate lines
    after the data."""
    comments = []
    for body, end in lines:
        data, mark, comment = body.partition(b"#")
        if mark:
            comments.append((b"#" + comment, end))
            data = data.rstrip(b" \t")
        yield _SUPERSEDED.sub(rb"\1f", _EMPTY_SLOT.sub(b"", data)), end
    yield from comments


FIX = Fix(
    id="clean-text",
    title="Clean the text",
    kind=FixKind.LOSSLESS,
    does="Rewrites the text as UTF-8 without a byte-order mark. All lines, including the last, get the same line "
    "ending. Each statement is written on one line, with its keyword in lower case. Trailing comments become separate "
    "lines, empty indices after slashes are removed, and `fo` becomes `f`.",
    cost="",
    touches=KNOWN,
    claims=frozenset({Claim.TEXT_FORM}),
    plan=plan,
    edit_frame=edit_frame,
)
