"""A drawer with the commands of a screen. The user types words to narrow the list, and chooses a line.

If the user types a number on a screen with frames, the first line is a command that goes to that frame.
"""

from __future__ import annotations

from rich.segment import Segment
from textual.containers import Horizontal
from textual.geometry import Size
from textual.widget import Widget
from textual.widgets import Static

from inspector.tui import keys
from inspector.tui.drawers.drawer import Drawer
from inspector.tui.drawers.prompt import Line
from inspector.tui.glyphs import Glyphs
from inspector.tui.keys import Key
from inspector.tui.widgets.cursor_list import CursorList

_ROWS = 8
_KEY, _NAME = 10, 16  # cells
_BEFORE_HELP = 2 + _KEY + 1 + _NAME + 1  # cells: the cursor, the key and the name, with a space after each


class CommandList(CursorList):
    """The list of the commands that match the typed text.

    Attributes:
        lines: For each command, the displayed key, the name, the help and the action.
    """

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self.styles.height = "auto"
        self.can_focus = False
        self.lines: list[tuple[str, str, str, str]] = []

    def show(self, lines: list[tuple[str, str, str, str]]) -> None:
        self.lines = lines
        self.put_cursor(0)
        self.rows_changed()

    def row_count(self) -> int:
        return len(self.lines)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - the rows decide
        """Return the height of the list.

        The height is the same for any number of matches, and small enough for the typed text to be visible on a screen
        with few rows.
        """
        return max(2, min(_ROWS, viewport.height * 4 // 10))

    def empty(self) -> str:
        return "no matching command"

    def row(self, at: int, width: int) -> list[Segment]:
        shown, name, words, _ = self.lines[at]
        return [Segment(self.glyphs.fit(f"{shown:<{_KEY}} {name:<{_NAME}} {words}", width))]


class CommandsDrawer(Drawer[str]):
    """A drawer that returns the chosen action, or None if the user chooses none."""

    BINDINGS = keys.bindings(keys.COMMANDS)

    def __init__(self, glyphs: Glyphs, table: tuple[Key, ...]) -> None:
        super().__init__(glyphs, "commands", keys.COMMANDS)
        self._commands = [key for key in table if key.action and "{}" not in key.action]
        self._goes = any(key.action == "go" for key in table)
        self._list = CommandList(glyphs)
        self._line = Line(compact=True, select_on_focus=False)
        self._help = Static(markup=False, classes="note")
        self._help.styles.min_height = 1  # so that the list doesn't move

    def body(self) -> list[Widget]:
        self._line.cursor_blink = False
        return [
            self._list,
            self._help,
            Horizontal(Static(": ", markup=False, classes="label"), self._line, classes="field"),
        ]

    def on_mount(self) -> None:
        self.on_input_changed()
        self.set_focus(self._line)

    def on_input_changed(self) -> None:
        text = self._line.value.strip().lower()
        words = text.split()
        found = [key for key in self._commands if all(word in _searched(key) for word in words)]
        found.sort(key=lambda key: not key.name.startswith(text))
        lines = [(key.shown.split(", ")[0] or ",", key.name, key.help, key.action) for key in found]
        if self._goes and text and text.replace(".", "", 1).isdecimal() and text.isascii():
            lines.insert(0, ("enter", f"frame {text}", "Go to this frame.", f"go_to({text!r})"))
        self._list.show(lines)
        self._show_help()

    def on_resize(self) -> None:
        self._show_help()

    def _show_help(self) -> None:
        """Show the full help of the command under the cursor if the list cuts it off; otherwise, show nothing."""
        chosen = self._list.lines[self._list.cursor] if self._list.lines else None
        is_cut = chosen is not None and len(chosen[2]) > self.size.width - _BEFORE_HELP
        self._help.update(self.glyphs.text(chosen[2]) if chosen is not None and is_cut else "")

    def submit(self) -> None:
        if self._list.lines:
            self.dismiss(self._list.lines[self._list.cursor][3])

    def action_move(self, rows: int) -> None:
        self._list.action_move(rows)
        self._show_help()


def _searched(key: Key) -> str:
    return f"{key.shown} {key.name} {key.help} {key.synonyms}".lower()
