"""The keys of a screen in its lowest row, or a message in their place."""

from __future__ import annotations

import textwrap

from rich.cells import cell_len
from rich.text import Text
from textual.geometry import Size
from textual.widget import Widget

from inspector.checks.base.finding import Severity
from inspector.tui.keys import Key
from inspector.tui.styles import STRONG, STYLES

_ALWAYS = {"more", "help", "quit", "back", "cancel"}
_MOST_ROWS = 4  # maximum number of rows of a message
_CUT = "..."  # end of a message that is cut off


class KeyFooter(Widget):
    """One row with the keys that fit, in the order of the table. The keys for the command list, help and leaving are
    always shown.

    A message replaces the list of keys until the user presses a key. A long message is wrapped. An alarm has its own
    row.
    """

    def __init__(self, keys: tuple[Key, ...]) -> None:
        super().__init__()
        self.table = keys
        self._keys = [key for key in keys if key.footer]
        self._said = ""
        self._alarm = ""

    def offer(self, keys: tuple[Key, ...]) -> None:
        """Replace the keys in the footer with `keys`, which suit the current content of the screen. Keys that have no
        text for the footer are left out."""
        shown = [key for key in keys if key.footer]
        if shown != self._keys:
            self._keys = shown
            self.refresh()

    def say(self, words: str) -> None:
        """Show a message. An empty message brings the list of keys back, and removes an alarm."""
        alarm = self._alarm if words else ""
        if (words, alarm) != (self._said, self._alarm):
            rows = len(self._lines(self.size.width))
            self._said, self._alarm = words, alarm
            self.refresh(layout=len(self._lines(self.size.width)) != rows)

    def alarm(self, words: str) -> None:
        """Show an alarm above the list of keys or the message. `say` with an empty message removes the alarm."""
        self._alarm = words
        self.refresh(layout=True)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - the width counts
        return len(self._lines(width))

    def _lines(self, width: int) -> list[Text]:
        lines = [Text(self._alarm, STYLES[Severity.ERROR], no_wrap=True)] if self._alarm else []
        if self._said:
            wrapped = textwrap.wrap(self._said, max(len(_CUT), width), max_lines=_MOST_ROWS, placeholder=_CUT)
            return [*lines, *(Text(line, STRONG, no_wrap=True) for line in wrapped)]
        return [*lines, self._key_line(width)]

    def _key_line(self, width: int) -> Text:
        needed = {key: cell_len(f"{key.footer} {key.name}  ") for key in self._keys}
        room = width + 2 - sum(needed[key] for key in self._keys if key.name in _ALWAYS)
        shown = []
        for key in self._keys:
            if key.name in _ALWAYS:
                shown.append(key)
            elif needed[key] <= room:
                room -= needed[key]
                shown.append(key)
        text = Text(no_wrap=True)
        for at, key in enumerate(shown):
            text.append("  " if at else "").append(key.footer, STRONG).append(f" {key.name}")
        return text

    def render(self) -> Text:
        return Text("\n").join(self._lines(self.size.width))
