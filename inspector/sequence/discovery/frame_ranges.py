"""Write frame numbers as people do: 1-3, 7, 9-12."""

from __future__ import annotations

import math
from collections.abc import Iterable
from fractions import Fraction
from itertools import pairwise
from typing import NamedTuple

from inspector.sequence.discovery.discover import Sequence
from inspector.sequence.discovery.settings import frame_text

_SHOWN = 6  # maximum number of ranges in a sentence; with more ranges, the rest of the sentence would be hard to find


def frames_words(numbers: Iterable[Fraction], sequence: Sequence) -> str:
    """Write frames as the end of a phrase: `, all frames`, `, frame 7` or `, frames 1-3, 7`; "" for no frames."""
    distinct = set(numbers)
    if not distinct:
        return ""
    if len(distinct) > 1 and distinct == {file.number for file in sequence.files}:
        return ", all frames"
    return f", {'frame' if len(distinct) == 1 else 'frames'} {frame_ranges(distinct, sequence.step)}"


def frame_ranges(numbers: Iterable[Fraction], step: Fraction = Fraction(1)) -> str:
    """Write frame numbers compactly: three or more numbers at intervals of `step` as a range, the others singly.

    A step other than 1 is written after the range: 1-11x2 means 1, 3, 5, 7, 9, 11.
    """
    return ", ".join(_run_text(run, step) for run in _runs(numbers, step))


def numbers_text(numbers: Iterable[Fraction]) -> str:
    """Write frame numbers as `frame 7` or `frames 3, 5, 9-12`.

    If there are many ranges, only the first few are written, followed by the number of remaining frames.
    """
    distinct = set(numbers)
    runs = _runs(distinct, Fraction(1))
    shown = ", ".join(_run_text(run, Fraction(1)) for run in runs[:_SHOWN])
    left = sum(run.many for run in runs[_SHOWN:])
    more = f" and {left} more" if left else ""
    return f"{'frame' if len(distinct) == 1 else 'frames'} {shown}{more}"


class _NumberRun(NamedTuple):
    """A range of `many` frame numbers from `first` to `last`, with the same step between neighbouring numbers."""

    first: Fraction
    last: Fraction
    many: int


def _runs(numbers: Iterable[Fraction], step: Fraction) -> list[_NumberRun]:
    distinct = set(numbers)
    # Multiples of one unit are whole numbers: sorted and subtracted twenty times as fast as fractions.
    unit = math.lcm(step.denominator, *(number.denominator for number in distinct))
    ordered = sorted(number.numerator * (unit // number.denominator) for number in distinct)
    apart = step.numerator * (unit // step.denominator)
    breaks = [at for at, (before, after) in enumerate(pairwise(ordered), 1) if after - before != apart]
    return [
        _NumberRun(Fraction(ordered[start], unit), Fraction(ordered[stop - 1], unit), stop - start)
        for start, stop in pairwise([0, *breaks, len(ordered)])
        if start < stop
    ]


def _run_text(run: _NumberRun, step: Fraction) -> str:
    if run.many == 1:
        return frame_text(run.first)
    if run.many == 2:
        return f"{frame_text(run.first)}, {frame_text(run.last)}"
    every = "" if step == 1 else f"x{frame_text(step)}"
    return f"{frame_text(run.first)}-{frame_text(run.last)}{every}"
