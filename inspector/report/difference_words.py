"""Describe the differences between two frames as text."""

from __future__ import annotations

from collections.abc import Sequence

from inspector.sequence.frame_difference import Difference

BLOCK = 14
"""Width of the column with the names of the blocks, in terminal cells."""


def difference_text(one: Difference) -> str:
    """Describe the difference between two frames in one block of data, such as the vertices.

    For example: `600 of 600 differ, mean 0.4716, largest 0.7464 units: vertex 12, line 15`. If the frames have
    different numbers of elements, the text begins with these numbers.
    """
    here, there = one.counts
    words = [] if here == there else [f"{here:,} instead of {there:,}"]
    if min(here, there):
        words.append(f"{one.differing:,} of {min(here, there):,} {'differs' if one.differing == 1 else 'differ'}")
    if one.most:
        most = f"{one.most:.4g} {one.unit}".rstrip()
        words.append(f"mean {one.mean:.4g}, largest {most}: {_place(one)}")
    elif one.differing == 1:
        words[-1] += f": {_place(one)}"
    elif one.element is not None:
        words.append(f"the first is {_place(one)}")
    return ", ".join(words)


def _place(one: Difference) -> str:
    """Return the element and its line, as in `vertex 12, line 15`."""
    assert one.element is not None
    return f"{one.noun} {one.element + 1}" + (f", line {one.line}" if one.line else "")


def same_words(found: Sequence[Difference]) -> str:
    """List the blocks without differences, each with its number of elements; "" if all blocks differ."""
    return ", ".join(f"{one.block} {one.counts[0]:,}" for one in found if one.same)
