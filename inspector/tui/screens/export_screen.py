"""The comparison of this export with the previous export."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import Event

from rich.text import Text
from textual.app import ComposeResult

from inspector.inspection.export_change import SequenceChange
from inspector.names import safe
from inspector.report.export_change import export_text
from inspector.report.text_style import TextStyle
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.session import Session
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page
from inspector.tui.workers import export_engine
from inspector.tui.workers.export_engine import Compared, Comparing, NotCompared
from inspector.tui.workers.messages import FixesTaken, RulesTaken


@dataclass
class ExportCard(Card):
    """The text that `meshqc compare --with` prints, and the fixes and rules that can be taken from the previous export.

    Attributes:
        changes: For each sequence, what has changed since the previous export.
    """

    changes: tuple[SequenceChange, ...] = ()

    def text(self, look: TextStyle) -> Text:
        offers = super().text(look)
        return Text(f"{export_text(self.changes, look)}\n").append(offers) if self.changes else offers


class ExportScreen(SessionScreen):
    """A screen that compares two exports, and offers the fixes and rules of the previous export.

    Args:
        other: Folder of the previous export.

    Attributes:
        found: The result of the comparison; None until it is made.
    """

    BINDINGS = keys.bindings(keys.EXPORT)

    def __init__(self, session: Session, glyphs: Glyphs, other: Path) -> None:
        super().__init__(session, glyphs)
        self._other = other
        self._stop = Event()
        self.found: Compared | None = None

    def compose(self) -> ComposeResult:
        yield (rule := Rule(self.glyphs, f"compared with {safe(self._other.name)}"))
        yield Page(self.glyphs, rule)
        yield KeyFooter(keys.EXPORT)

    def on_mount(self) -> None:
        inspection = self.session.inspection
        if inspection is None:  # the folder is being read again
            self._show_words("not compared: the folder is still being read")
            return
        self._show_words("starting")
        self.work(partial(export_engine.compare, inspection, self._other, self.post_message, self._stop.is_set))

    def on_unmount(self) -> None:
        self._stop.set()

    def _show_words(self, words: str) -> None:
        card = ExportCard()
        card.add("", words)
        self.query_one(Page).show(card)

    def on_comparing(self, message: Comparing) -> None:
        if self.found is None:
            self._show_words(message.words)

    def on_not_compared(self, message: NotCompared) -> None:
        self._show_words(f"not compared: {message.reason}")

    def on_compared(self, message: Compared) -> None:
        self.found = message
        card = ExportCard(changes=message.changes)
        if message.choices:
            fixes = "fix" if len(message.choices) == 1 else f"{len(message.choices):,} fixes"
            card.add("F", f"stage the {fixes} of the previous export ({message.plan})", hang=True)
        if message.rules is not None:
            card.add("D", "check this export against the delivery rules of the previous export", hang=True)
        self.query_one(Page).show(card)

    def action_take_plan(self) -> None:
        """Stage the fixes that were planned or staged for the previous export."""
        if self.found is None:
            self.say("the exports have not been compared")
            return
        if not self.found.choices:
            self.say("no fixes were planned or staged for the previous export")
            return
        self.post_message(FixesTaken(self.found.choices))
        self.say("the fixes of the previous export are staged; p on the main screen: plan, u: undo")

    def action_take_rules(self) -> None:
        """Check this export against the delivery rules of the previous export."""
        if self.found is None:
            self.say("the exports have not been compared")
            return
        if self.found.rules is None:
            self.say("no delivery rules to use: the previous export has none, or this export has its own")
            return
        self.post_message(RulesTaken(self.found.rules))
        self.say("checking against the delivery rules of the previous export; u: undo")

    def action_stop(self) -> None:
        self._stop.set()
        self.say("stopped" if self.found is None else "nothing is running; q: back")
