"""Frame numbers and indices."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction

from inspector.checks.base.evidence import Evidence
from inspector.errors import Refusal
from inspector.sequence.frame_ranges import numbers_text


def indices_of(evidence: Evidence, frames: Iterable[Fraction]) -> list[int]:
    """Indices of `series.facts` that have these numbers, those of a repeated number all."""
    wanted = set(frames)
    return [index for index, facts in enumerate(evidence.series.facts) if facts.number in wanted]


def all_numbers(evidence: Evidence) -> tuple[Fraction, ...]:
    """Every frame number of the source, each once."""
    return tuple(dict.fromkeys(facts.number for facts in evidence.series.facts))


def readable_indices(evidence: Evidence, frames: Iterable[Fraction]) -> list[int]:
    """Indices of these frames. Raises Refusal if one doesn't exist or can't be read."""
    wanted = tuple(frames)
    indices = indices_of(evidence, wanted)
    absent = set(wanted) - {evidence.series.facts[index].number for index in indices}
    if absent:
        raise Refusal(f"{numbers_text(absent)}: no such frame in the source")
    broken = [evidence.series.facts[index].number for index in indices if not evidence.series.facts[index].readable]
    if broken:
        raise Refusal(f"{numbers_text(broken)}: can't be read")
    return indices
