"""Every action of a screen by its name: a part of it is typed, and one line chosen."""

from __future__ import annotations

from rich.segment import Segment
from textual.containers import Horizontal
from textual.widget import Widget
from textual.widgets import Static

from inspector.tui import keys
from inspector.tui.drawers.drawer import Drawer
from inspector.tui.drawers.prompt import Line
from inspector.tui.glyphs import Glyphs
from inspector.tui.keys import Key
from inspector.tui.widgets.cursor_list import CursorList

_ROWS = 8
_SHOWN = 14  # cells for the key


def named_actions(table: tuple[Key, ...]) -> list[tuple[str, str, str]]:
    """(key as people call it, what it does, action) for each key of a table that does one thing."""
    named = []
    for key in table:
        if key.action and "{}" not in key.action:
            shown = key.keys[0] if key.shown.endswith("arrows") else _first(key.shown)
            named.append((shown, key.alone or key.help, key.action))
    return named


def _first(shown: str) -> str:
    """The first of several keys: `n, b`, and `, .`"""
    return shown[0] if shown.startswith(",") else shown.split(", ", 1)[0]


class ActionList(CursorList):
    """The actions that are left."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self.styles.height = _ROWS
        self.can_focus = False
        self.lines: list[tuple[str, str, str]] = []

    def show(self, lines: list[tuple[str, str, str]]) -> None:
        self.lines = lines
        self.put_cursor(0)
        self.rows_changed()

    def row_count(self) -> int:
        return len(self.lines)

    def empty(self) -> str:
        return "no action here has these words"

    def row(self, at: int, width: int) -> list[Segment]:
        shown, words, _ = self.lines[at]
        return [Segment(self.glyphs.fit(f"{shown:<{_SHOWN}} {words}", width))]


class ActionsDrawer(Drawer[str]):
    """Answers with an action, None for none."""

    BINDINGS = keys.bindings(keys.ACTIONS)

    def __init__(self, glyphs: Glyphs, table: tuple[Key, ...]) -> None:
        super().__init__(glyphs, "every action here", keys.ACTIONS)
        self._all = named_actions(table)
        self._list = ActionList(glyphs)
        self._line = Line(compact=True, select_on_focus=False)

    def body(self) -> list[Widget]:
        self._line.cursor_blink = False
        return [self._list, Horizontal(Static("find > ", markup=False, classes="label"), self._line, classes="field")]

    def on_mount(self) -> None:
        self._list.show(self._all)
        self.set_focus(self._line)

    def on_input_changed(self) -> None:
        wanted = self._line.value.lower().split()
        told = [(one, f"{one[0]} {one[1]}".lower()) for one in self._all]
        self._list.show([one for one, text in told if all(word in text for word in wanted)])

    def submit(self) -> None:
        if self._list.lines:
            self.dismiss(self._list.lines[self._list.cursor][2])

    def action_move(self, rows: int) -> None:
        self._list.action_move(rows)
