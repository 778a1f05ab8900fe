"""A drawer that asks for values, one per row.

The drawer shows the meaning of each value. If a value can't be used, the drawer shows the reason.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from textual._callback import invoke
from textual.containers import Horizontal
from textual.events import Key
from textual.widget import Widget
from textual.widgets import Input, Static

from inspector.names import safe
from inspector.tui import keys
from inspector.tui.drawers.drawer import Drawer
from inspector.tui.glyphs import Glyphs

Values = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Field:
    """A value that the user types.

    Attributes:
        name: Name of the value.
        meaning: Meaning of the value; empty if it needs no explanation.
        value: The initial text in the row.
    """

    name: str
    meaning: str = ""
    value: str = ""


class Line(Input):
    """A line in which the user types text.

    Editing keys take effect in the order in which they arrive, even if they arrive together. Keys that arrive after the
    drawer was closed go to the screen below, and keys that arrive after Tab go to the next line.
    """

    async def _on_key(self, event: Key) -> None:
        if not self.screen.is_current:
            event.stop()
            event.prevent_default()
            self.app.call_later(self.app.post_message, Key(event.key, event.character))
            return
        focused = self.screen.focused
        if focused is not self and isinstance(focused, Line):
            event.stop()
            event.prevent_default()
            await focused._on_key(event)
            return
        actions = {
            "backspace": self.action_delete_left,
            "ctrl+u": self.action_delete_left_all,
            "enter": self._submit,
            "tab": self._complete,
        }
        if event.key in actions:
            event.stop()
            event.prevent_default()
            await invoke(actions[event.key])
        else:
            await super()._on_key(event)

    def _complete(self) -> None:
        """Complete the path if the prompt asks for paths; otherwise, go to the next line."""
        if isinstance(self.screen, Prompt) and self.screen.paths is not None:
            self.value, note = completed(self.value, self.screen.paths, files=self.screen.files)
            self.cursor_position = len(self.value)
            self.screen.show_note(note)
        else:
            self.screen.focus_next()

    def _submit(self) -> None:
        if isinstance(self.screen, Drawer):
            self.screen.submit()


class Prompt(Drawer[Values]):
    """A drawer that returns the typed values by name, or None if the user cancels.

    Args:
        fields: The values to type.
        fault: Function that returns the problem with the values, or None. While there is a problem, the drawer stays
            open.
        note: Text that is shown below the rows at first.
        paths: The folder that relative paths start from; None if the values are not paths. The Tab key completes paths.
        files: Whether the Tab key completes file names as well as folder names.
    """

    BINDINGS = keys.bindings(keys.PROMPT)

    def __init__(
        self,
        glyphs: Glyphs,
        title: str,
        fields: Sequence[Field],
        fault: Callable[[Values], str | None] = lambda _: None,
        *,
        note: str = "",
        paths: Path | None = None,
        files: bool = False,
    ) -> None:
        one = keys.PROMPT if paths is None else keys.PROMPT_OF_PATHS
        super().__init__(glyphs, title, keys.PROMPT_OF_SEVERAL if len(fields) > 1 else one)
        self.paths, self.files = paths, files
        self._fields = fields
        self._fault = fault
        self._inputs = [Line(glyphs.text(one.value), compact=True, select_on_focus=False) for one in fields]
        self._note = Static(glyphs.text(note), markup=False, classes="note")

    def body(self) -> list[Widget]:
        rows: list[Widget] = []
        for field, box in zip(self._fields, self._inputs, strict=True):
            box.cursor_blink = False
            label = Static(self.glyphs.text(f"{field.name} > "), markup=False, classes="label")
            rows.append(Horizontal(label, box, classes="field"))
            if field.meaning:
                rows.append(Static(self.glyphs.text(field.meaning), markup=False, classes="meaning"))
        return [*rows, self._note]

    def on_mount(self) -> None:
        self.set_focus(self._inputs[0])

    def submit(self) -> None:
        values = {field.name: box.value.strip() for field, box in zip(self._fields, self._inputs, strict=True)}
        fault = self._fault(values)
        if fault is None:
            self.dismiss(values)
        else:
            self.show_note(fault)

    def show_note(self, words: str) -> None:
        self._note.update(self.glyphs.text(words))


_MOST_NAMED = 6  # maximum number of possible continuations of a path that are listed


def completed(text: str, base: Path, *, files: bool = False) -> tuple[str, str]:
    """Complete a typed path as a shell does.

    Args:
        text: The typed text.
        base: Folder that relative paths start from.
        files: Whether to complete file names as well as folder names.

    Returns:
        The completed text, and a note. If several names match, the note lists up to _MOST_NAMED of them and gives the
        number of the others. If no name matches, the note is an error message. If one name matches, the note is empty.
    """
    head, _, stem = text.rpartition("/")
    folder = base / Path(f"{head}/" if head or text.startswith("/") else ".").expanduser()
    try:
        with os.scandir(folder) as entries:
            hidden = stem.startswith(".")
            names = sorted(
                f"{entry.name}/" if entry.is_dir() else entry.name
                for entry in entries
                if entry.name.startswith(stem)
                and (files or entry.is_dir())
                and (hidden or not entry.name.startswith("."))
            )
    except OSError:
        names = []
    if not names:
        return text, f"no {'file or ' if files else ''}folder name begins with this text"
    start = f"{head}/" if "/" in text else ""
    if len(names) == 1:
        return start + names[0], ""
    more = f" and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    common = os.path.commonprefix(names)  # noqa: RUF071 - of names, letter by letter
    return start + common, "  ".join(map(safe, names[:_MOST_NAMED])) + more
