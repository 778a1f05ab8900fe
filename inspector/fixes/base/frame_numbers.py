"""Translate frame numbers into indices."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from inspector.checks.base.context import CheckContext
from inspector.errors import Refusal
from inspector.sequence.discovery.frame_ranges import numbers_text


def indices_of(context: CheckContext, frames: Iterable[Fraction]) -> list[int]:
    """Return the indices in `series.facts` of all files with these frame numbers.

    Args:
        context: The sequence.
        frames: Frame numbers. Numbers that the source doesn't have are ignored.
    """
    wanted = set(frames)
    return [index for index, facts in enumerate(context.series.facts) if facts.number in wanted]


def all_numbers(context: CheckContext) -> tuple[Fraction, ...]:
    """Return the distinct frame numbers of the source in order."""
    return tuple(dict.fromkeys(facts.number for facts in context.series.facts))


def readable_indices(context: CheckContext, frames: Iterable[Fraction]) -> list[int]:
    """Return the indices of the frames with these numbers, except empty frames.

    Args:
        context: The sequence.
        frames: Frame numbers.

    Raises:
        Refusal: A frame doesn't exist or can't be read.
    """
    wanted = tuple(frames)
    indices = indices_of(context, wanted)
    absent = set(wanted) - {context.series.facts[index].number for index in indices}
    if absent:
        raise Refusal(f"the source has no {numbers_text(absent)}")
    broken = [context.series.facts[index].number for index in indices if not context.series.facts[index].readable]
    if broken:
        raise Refusal(f"{numbers_text(broken)} can't be read")
    return [index for index in indices if context.series.facts[index].filled]
