"""A titled line across the screen, the only divider between panes."""

from __future__ import annotations

import re

from rich.text import Text
from textual.reactive import reactive
from textual.widget import Widget

from inspector.tui.glyphs import Glyphs
from inspector.tui.styles import FAINT


class Rule(Widget):
    """One row with a title on the left and a note on the right.

    Attributes:
        title: Text on the left.
        note: Text on the right.
    """

    title: reactive[str] = reactive("")
    note: reactive[str] = reactive("")

    def __init__(self, glyphs: Glyphs, title: str = "", note: str = "", id: str | None = None) -> None:
        super().__init__(id=id)
        self._glyphs = glyphs
        self.title = title
        self.note = note

    def render(self) -> Text:
        line = Text(self._glyphs.line(self.title, self.size.width, self.note))
        line.highlight_regex(f"{re.escape(self._glyphs.rule)}+", FAINT)  # the line is faint, but the words are not
        return line
