"""The help page, made from the table of keys and the table of signs."""

from __future__ import annotations

from rich.text import Text

from inspector.tui.keys import HELP
from inspector.tui.styles import GOOD_SIGN, SIGNS, STRONG, STYLES, WORST_FIRST

_MEANINGS = {
    "E": "error: the import fails, or the picture is wrong",
    "W": "warning: it may be, a person should look",
    "i": "note: a fact, nothing to do",
}


def help_text() -> Text:
    """Signs, then keys by screen."""
    text = Text("Signs\n", STRONG)
    for severity in WORST_FIRST:
        text.append(f"  {SIGNS[severity]:<12}", STYLES[severity]).append(_MEANINGS[SIGNS[severity]] + "\n")
    text.append(f"  {GOOD_SIGN:<12}nothing found\n")
    text.append(f"  {'>':<12}the line under the cursor\n")
    text.append(f"  {'x':<12}a fix is staged for this finding\n")
    for heading, keys in HELP:
        text.append(f"\n{heading}\n", STRONG)
        for key in keys:
            text.append(f"  {key.shown:<12}", STRONG).append(key.help + "\n")
    return text
