"""The help page, made from the table of keys and the table of signs."""

from __future__ import annotations

from inspector.checks.base.finding import Severity
from inspector.fixes.base.fix import FixKind
from inspector.tui.glyphs import Glyphs
from inspector.tui.keys import HELP
from inspector.tui.styles import GOOD_SIGN, STRONG, STYLES
from inspector.tui.widgets.card import Card

_KEYS = 20  # cells for the keys, the longest of which are "page up, page down"
_MEANINGS = {
    Severity.ERROR: "error: the import fails, or the picture is wrong",
    Severity.WARNING: "warning: it may be, a person should look",
    Severity.NOTE: "note: a fact, nothing to do",
}
_OTHER_SIGNS = {
    GOOD_SIGN: "nothing found",
    ">": "the line under the cursor",
    "*": "a frame that you marked (k)",
    "x": "a fix is staged for this finding",
    "!": "a check that failed, or a proof that is not complete",
}
_KINDS = {
    FixKind.LOSSLESS: "adds nothing and drops nothing",
    FixKind.ONE_CONSTANT: "sets one declared number for all frames",
    FixKind.CHANGES_DATA: "adds, estimates or drops data; the plan says which",
}


def help_card(glyphs: Glyphs) -> Card:
    """Signs and words, then keys by screen."""
    card = Card()
    card.add("Signs", "")
    for severity, meaning in _MEANINGS.items():
        card.add(f"  {severity.sign:<{_KEYS}}", meaning, STYLES[severity], hang=True)
    beyond = {" ".join(glyphs.beyond): "more lines above, more lines below"}
    for sign, meaning in (_OTHER_SIGNS | beyond).items():
        card.add(f"  {sign:<{_KEYS}}", meaning, hang=True)
    card.add("", "")
    card.add("Kinds of fixes", "")
    for kind, meaning in _KINDS.items():
        card.add(f"  {kind.value:<{_KEYS}}", meaning, hang=True)
    for heading, keys in HELP:
        card.add("", "")
        card.add(heading, "", STRONG)
        for key in keys:
            if key.help:
                card.add(f"  {key.shown:<{_KEYS}}", key.help, hang=True)
    return card
