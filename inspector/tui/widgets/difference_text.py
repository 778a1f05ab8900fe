"""The differences between two frames, as a card."""

from __future__ import annotations

from collections.abc import Sequence

from inspector.report.difference_words import BLOCK, difference_text, same_words
from inspector.sequence.frame_difference import Difference
from inspector.tui.styles import FAINT
from inspector.tui.widgets.card import Card


def difference_card(found: Sequence[Difference], shades: str, here: str, there: str) -> Card:
    """A card with the meaning of the shades, a paragraph for each block that differs, one for all blocks that are the
    same, and the names of the frames.

    Args:
        found: The differences.
        shades: The meaning of the shades of the picture; empty if there are none.
        here: Name of the frame.
        there: Name of the other frame.
    """
    card = Card()
    if shades:
        card.add("shades:", shades, hang=True)
    for one in found:
        if not one.same:
            card.add(f"x {one.block:<{BLOCK}}", difference_text(one), hang=True)
    if same := same_words(found):
        card.add(f"= {'the same':<{BLOCK}}", same, style=FAINT, hang=True)
    card.add("", f"{here} compared with {there}. Numbers start at 1; lines are those of {here}.", style=FAINT)
    return card
