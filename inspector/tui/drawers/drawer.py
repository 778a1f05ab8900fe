"""A question asked in the lowest rows of the screen. The rows above stay visible."""

from __future__ import annotations

from typing import Generic, TypeVar

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widget import Widget

from inspector.tui.glyphs import Glyphs
from inspector.tui.keys import Key
from inspector.tui.widgets.cursor_list import CursorList
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule

Answer = TypeVar("Answer")


class Drawer(ModalScreen[Answer | None], Generic[Answer]):
    """A question. Subclasses define the rows between the title and the keys."""

    def __init__(self, glyphs: Glyphs, title: str, keys: tuple[Key, ...]) -> None:
        super().__init__()
        self.glyphs = glyphs
        self._title = title
        self._keys = keys

    def compose(self) -> ComposeResult:
        rule, body = Rule(self.glyphs, self._title), self.body()
        for widget in body:
            if isinstance(widget, CursorList):
                widget.rule = rule
        yield Vertical(rule, *body, KeyFooter(self._keys), classes="drawer")

    def body(self) -> list[Widget]:
        """Return the rows between the title and the keys."""
        raise NotImplementedError

    def submit(self) -> None:
        """Accept the typed text, or show why it can't be used. A drawer without text fields does nothing."""

    def action_back(self) -> None:
        self.dismiss(None)
