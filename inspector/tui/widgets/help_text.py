"""The help page, made from the table of keys and the tables of signs."""

from __future__ import annotations

from inspector.checks.base.finding import Severity
from inspector.fixes.base.fix import FixKind
from inspector.tui.columns import COLUMNS
from inspector.tui.glyphs import Glyphs
from inspector.tui.keys import SCREENS, Key
from inspector.tui.styles import GOOD_SIGN, SHARED_SIGN, STRONG, STYLES
from inspector.tui.widgets.card import Card

_KEYS = 22  # cells for the keys; the longest are those for earlier and later frames of the plots
_MEANINGS = {
    Severity.ERROR: "error: the import fails, or the picture is certainly wrong",
    Severity.WARNING: "warning: the picture is probably wrong; check it by eye",
    Severity.NOTE: "note: a fact; there is nothing to do",
}
_OTHER_SIGNS = {
    GOOD_SIGN: "nothing found",
    SHARED_SIGN: "only findings that nearly every frame has; they are listed once, above the strip",
    ">": "the line under the cursor",
    "*": "a frame that you marked (m)",
    "x": "a fix is staged for this finding",
    "reference": "the frame that all others are compared with (R: use another frame)",
    "!": "a check or a verification that failed",
}
_KINDS = {
    FixKind.LOSSLESS: "adds nothing and drops nothing",
    FixKind.ONE_CONSTANT: "applies one constant to all frames",
    FixKind.CHANGES_DATA: "adds, estimates or drops data; the plan shows which of these it does",
}


def help_card(glyphs: Glyphs, table: tuple[Key, ...]) -> Card:
    """Make the help page: the keys of the current screen, the signs, the columns, the kinds of fixes, and the keys of
    the other screens."""
    card = Card()
    here = next((heading for heading, keys in SCREENS.items() if keys is table), "")
    if here:
        _keys(card, f"{here} (this screen)", table)
        card.add("", "")
    card.add("Signs", "")
    for severity, meaning in _MEANINGS.items():
        card.add(f"  {severity.sign:<{_KEYS}}", meaning, STYLES[severity], hang=True)
    beyond = {" ".join(glyphs.beyond): "more lines above, more lines below"}
    for sign, meaning in (_OTHER_SIGNS | beyond).items():
        card.add(f"  {sign:<{_KEYS}}", meaning, hang=True)
    card.add("", "")
    card.add("Columns", "")
    for column in COLUMNS:
        card.add(f"  {column.title:<{_KEYS}}", column.meaning, hang=True)
    card.add("", "")
    card.add("Kinds of fixes", "")
    for kind, meaning in _KINDS.items():
        card.add(f"  {kind.value:<{_KEYS}}", meaning, hang=True)
    for heading, keys in SCREENS.items():
        if heading != here:
            card.add("", "")
            _keys(card, heading, keys)
    card.add("", "")
    card.add(
        "",
        "For screen readers: `meshqc check`, `meshqc explain` and `--format html` show the same content in text form.",
    )
    return card


def _keys(card: Card, heading: str, keys: tuple[Key, ...]) -> None:
    card.add(heading, "", STRONG)
    for key in keys:
        shown = key.shown or key.footer
        card.add(f"  {shown:<{_KEYS}}", f"{key.name}: {key.help}", hang=True)
