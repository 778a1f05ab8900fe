"""What differs between two frames, in words."""

from __future__ import annotations

from collections.abc import Sequence

from inspector.sequence.frame_difference import Difference
from inspector.tui.card import Card
from inspector.tui.styles import FAINT

_BLOCK = 14  # cells for the name of a block


def difference_card(found: Sequence[Difference], shades: str, here: str, there: str) -> Card:
    """What the shades mean, a paragraph for each block that differs, one for all that are the same, and what is
    compared. here, there: the two frames."""
    card = Card()
    if shades:
        card.add("shades:", shades, hang=True)
    for one in found:
        if not one.same:
            card.add(f"x {one.block:<{_BLOCK}}", _told(one), hang=True)
    same = [f"{one.block} {one.counts[0]:,}" for one in found if one.same]
    if same:
        card.add(f"= {'the same':<{_BLOCK}}", ", ".join(same), style=FAINT, hang=True)
    card.add("", f"here: {here}; there: {there}. Elements count from 1, lines are those of the file here.", style=FAINT)
    return card


def _told(one: Difference) -> str:
    """`600 of 600 differ, mean 0.4716, most 0.7464 units: vertex 12, line 15`"""
    here, there = one.counts
    told = [] if here == there else [f"{here:,} here, {there:,} there"]
    told.append(f"{one.differing:,} of {min(here, there):,} differ")
    if one.most:
        most = f"{one.most:.4g} {one.unit}".rstrip()
        told.append(f"mean {one.mean:.4g}, most {most}: {_place(one)}")
    elif one.element is not None:
        told.append(f"the first is {_place(one)}")
    return ", ".join(told)


def _place(one: Difference) -> str:
    """`vertex 12, line 15`"""
    assert one.element is not None
    return f"{one.noun} {one.element + 1}" + (f", line {one.line}" if one.line else "")
