"""Read, check and watch the folder."""

from __future__ import annotations

import threading
from dataclasses import replace
from fractions import Fraction
from functools import partial
from importlib import import_module
from pathlib import Path

from inspector.names import counted
from inspector.sequence.discovery.settings import Settings
from inspector.tui.actions.session_app import SessionApp
from inspector.tui.drawers.prompt import Prompt, Values
from inspector.tui.drawers.statements import statement_fields, statements_fault, with_typed
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.session import Selection, Session, Undo
from inspector.tui.widgets.card import Card
from inspector.tui.workers import engine, live_engine
from inspector.tui.workers.messages import Alarm, Checked, Read, ReferenceChosen, RulesTaken, Stopped


class ReadingPart(SessionApp):
    """The part of the app that reads the folder, or watches an export into the folder, in a thread.

    Args:
        first_file: The frame file on which the cursor starts; None if a folder was opened.
    """

    def __init__(self, session: Session, glyphs: Glyphs, first_file: Path | None) -> None:
        super().__init__(session, glyphs)
        self._first_file = first_file
        self._stop_reading = threading.Event()
        self._before = session.inspection  # the inspection to restore if the folder can't be read again

    def on_mount(self) -> None:
        if self.session.status.live:
            self._watch()
        else:
            self.action_again()

    def on_unmount(self) -> None:
        self._stop_reading.set()

    def stop_reading(self) -> None:
        """Stop reading or watching. After watching, the frames that have arrived are checked; after reading, nothing is
        checked."""
        self._stop_reading.set()

    def action_again(self) -> None:
        session = self.session
        self._begin("reading", live=False)
        stopped = self._stop_reading.is_set
        reading = partial(engine.read_and_check, session.root, session.settings, self._post(), stopped)
        self.work(partial(reading, lambda: session.on_screen))

    def _post(self) -> engine.Post:
        """Return a function that posts a message.

        Once the app starts to read or watch the folder again, the function posts nothing, because messages from the
        earlier thread would be out of date.
        """
        current = self._stop_reading
        return lambda message: self._stop_reading is current and self.post_message(message)

    def _begin(self, text: str, *, live: bool) -> None:
        """Stop reading or watching, and prepare to start again. Staged fixes are kept, and planned again after the
        checks.

        Args:
            text: The progress text to show until the first report.
            live: Whether an export is watched next.
        """
        session = self.session
        self._stop_reading.set()
        self._stop_reading = threading.Event()
        self._before = session.inspection or self._before
        session.inspection = None
        session.status.text, session.status.live, session.status.checking = text, live, False
        session.status.alarms = []
        self.show_session()

    def action_live(self) -> None:
        """Start watching an export into the folder. If an export is already being watched, stop watching it."""
        if self.session.status.live:
            self._stop_reading.set()
        else:
            self._watch()

    def _watch(self) -> None:
        session = self.session
        known = live_engine.measured_of(session.inspection)
        self._begin("live: reading the folder", live=True)
        self.set_title("meshqc: live")
        stop = self._stop_reading
        watching = partial(live_engine.watch_and_check, session.root, session.settings, known, self._post(), stop)
        self.work(partial(watching, lambda: self._stop_reading is stop))

    def on_alarm(self, message: Alarm) -> None:
        """Sound the bell, and show the message on the screens and in the terminal's title."""
        self.session.status.alarms.append(message.words)
        self.bell()
        self.set_title(f"meshqc: E {message.words.replace('  ', ', ')}")
        self.show_session()
        # The main screen shows the newest alarm in its title row until watching ends.
        for screen in self.session_screens[1:]:
            screen.alarm(f"E ALARM {message.words}")

    async def action_alarms(self) -> None:
        alarms = self.session.status.alarms
        if not alarms:
            self.say("no alarms; L: watch an export" if not self.session.status.live else "no alarms so far")
            return
        card = Card()
        for words in alarms:
            card.add("E", words, hang=True)
        title = counted(len(alarms), "alarm")
        await self.push_screen(TextScreen(self.session, self.glyphs, title, card))

    def _go_to_first_file(self) -> None:
        file = self._first_file
        if file is None or not self.session.views:
            return
        self._first_file = None
        for at, view in enumerate(self.session.views):
            for row in range(len(view.rows)):
                facts = view.facts_of(row)
                if facts is not None and facts.file.path == file:
                    self.session.selection = Selection(at, view.place_of(row))
                    self.session.fresh = False

    def on_read(self, message: Read) -> None:
        status = self.session.status
        status.text, status.checking = message.words, message.checking
        self.session.take_views(message.views)
        self._go_to_first_file()
        self.show_session()

    def on_checked(self, message: Checked) -> None:
        session = self.session
        session.inspection, session.settings = message.inspection, message.inspection.settings
        session.status.text, session.status.checking = "", False
        if session.status.live:
            session.status.live = False
            self.set_title("meshqc")
        session.take_views(message.views)
        self._go_to_first_file()
        if session.fresh:
            session.selection.sequence, session.selection.finding = 0, None  # the worst sequence
        self.show_session()
        self.work(_load_screens)

    def on_stopped(self, message: Stopped) -> None:
        session = self.session
        if message.fatal and not session.views:
            self.end(message.words)
            return
        kept = session.previous.stated.reference
        if message.fatal and kept is not None and kept == session.settings.reference:
            session.settings = replace(session.settings, reference=None)
            self.action_again()
            self.say(f"{message.words}; the reference frame that you chose last time is no longer used")
            return
        session.status.checking = session.stated = False
        session.status.text = "" if session.inspection else message.words
        if message.fatal:
            session.inspection, session.status.live, session.status.text = self._before, False, ""
            if session.inspection is not None:
                session.take_views(engine.views_of(session.inspection))
        if session.inspection is not None:  # the checks under other settings failed
            session.settings = session.inspection.settings
        self.show_session()
        self.say(f"{message.words}; r: read again, o: open another folder" if message.fatal else message.words)

    def on_reference_chosen(self, message: ReferenceChosen) -> None:
        session = self.session
        if session.inspection is None:
            self.say(f"the reference frame can be changed {session.all_checks}")
            return
        before = session.settings.reference
        session.undo.append(Undo("change of reference frame", partial(self._check_with, before)))
        self._check_with(message.number)

    async def action_state(self) -> None:
        """Ask the user for the frame range and the object's size, and check the measured frames against them."""
        session = self.session
        if session.status.live:
            self.say(f"frame range and object size can be stated {session.all_checks}")
            return

        def done(values: Values | None) -> None:
            before = session.settings
            if values is not None and (stated := with_typed(before, values)) != before:
                session.undo.append(Undo("change of frame range and object size", partial(self._check_under, before)))
                session.stated = True
                self._check_under(stated)

        fields = statement_fields(session.settings, session.view)
        of_all = " for all sequences" if len(session.views) > 1 else ""
        await self.push_screen(
            Prompt(self.glyphs, f"state the frame range and the object's size{of_all}", fields, statements_fault), done
        )

    def _check_with(self, reference: Fraction | None) -> None:
        self._check_under(replace(self.session.settings, reference=reference))

    def on_rules_taken(self, message: RulesTaken) -> None:
        session = self.session
        session.undo.append(Undo("change of delivery rules", partial(self._check_under, session.settings)))
        self._check_under(session.settings.under(message.rules))

    def _check_under(self, settings: Settings) -> None:
        """Check the measured frames with other settings. If frames are still being read, start reading or watching
        again instead."""
        session = self.session
        session.settings = settings  # not later, because the folder may be read again before the check has ended
        if session.inspection is None:
            self._watch() if session.status.live else self.action_again()
            return
        session.status.text, session.status.checking = "checking", True
        self.show_session()
        self.work(partial(engine.check_again, session.inspection, settings, self._post()))


def _load_screens() -> None:
    """While the app is idle, import the screens that keys open, so that no key has to wait for the import."""
    import_module("inspector.tui.screens.opened")
