"""Something is typed: one row for each value, what it means below, and why a value can't be taken."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from textual._callback import invoke
from textual.containers import Horizontal
from textual.events import Key
from textual.widget import Widget
from textual.widgets import Input, Static

from inspector.tui import keys
from inspector.tui.drawers.drawer import Drawer
from inspector.tui.glyphs import Glyphs

Values = Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Field:
    """A value to type: its name, what it means, what stands there at first."""

    name: str
    meaning: str = ""
    value: str = ""


class Line(Input):
    """One line of typing. Editing keys are done in the order in which they come, also when they come in one piece; keys
    behind the one that ended the typing go to the screen below."""

    async def _on_key(self, event: Key) -> None:
        if not self.screen.is_current:
            event.stop()
            event.prevent_default()
            self.app.call_later(self.app.post_message, Key(event.key, event.character))
            return
        actions = {
            "backspace": self.action_delete_left,
            "ctrl+u": self.action_delete_left_all,
            "enter": self._submit,
        }
        if event.key in actions:
            event.stop()
            event.prevent_default()
            await invoke(actions[event.key])
        else:
            await super()._on_key(event)

    def _submit(self) -> None:
        if isinstance(self.screen, Drawer):
            self.screen.submit()


class Prompt(Drawer[Values]):
    """Answers with the values by name. `fault` says what is wrong with them, None if nothing is."""

    BINDINGS = keys.bindings(keys.PROMPT)

    def __init__(
        self,
        glyphs: Glyphs,
        title: str,
        fields: Sequence[Field],
        fault: Callable[[Values], str | None] = lambda _: None,
    ) -> None:
        super().__init__(glyphs, title, keys.PROMPT_OF_SEVERAL if len(fields) > 1 else keys.PROMPT)
        self._fields = fields
        self._fault = fault
        self._inputs = [Line(glyphs.text(one.value), compact=True, select_on_focus=False) for one in fields]
        self._note = Static("", markup=False, classes="note")

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
            self._note.update(self.glyphs.text(fault))
