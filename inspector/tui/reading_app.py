"""Reading the folder and checking it, in a thread that can be stopped."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import partial

from inspector.tui.saved_state import Kept
from inspector.tui.staging_app import StagingApp
from inspector.tui.terminal import title_sequence
from inspector.tui.workers import engine, live_engine
from inspector.tui.workers.messages import Alarm, Checked, Read, ReferenceChosen, Stopped


class ReadingApp(StagingApp):
    """What is staged belongs to what was read, and goes when that changes."""

    _stop_reading = threading.Event()

    def on_mount(self) -> None:
        if self.session.live:
            self._watch()
        else:
            self.action_again()

    def on_unmount(self) -> None:
        self._stop_reading.set()

    def action_again(self) -> None:
        """Read the folder again."""
        session = self.session
        self._begin("reading", live=False)
        stopped = self._stop_reading.is_set
        reading = partial(engine.read_and_check, session.root, session.settings, self.post_message, stopped)
        self.work(partial(reading, lambda: session.on_screen))

    def _begin(self, words: str, *, live: bool) -> None:
        """Stop what reads or watches, and let go of what came of it."""
        session = self.session
        self._stop_reading.set()
        self._stop_reading = threading.Event()
        session.inspection, session.words, session.live, session.alarm = None, words, live, ""
        session.checking = False
        self.change_choices(())

    def action_live(self) -> None:
        """Watch the folder while an export writes to it, or end that."""
        if self.session.live:
            self._stop_reading.set()
        else:
            self._watch()

    def _watch(self) -> None:
        session = self.session
        known = live_engine.measured_of(session.inspection)
        self._begin("live: first look", live=True)
        self._set_title("meshqc: live")
        stop = self._stop_reading
        watching = partial(live_engine.watch_and_check, session.root, session.settings, known, self.post_message, stop)
        self.work(partial(watching, lambda: self._stop_reading is stop))

    def on_alarm(self, message: Alarm) -> None:
        """Told by sound, in the top row, and in the terminal's title; nothing flashes."""
        self.session.alarm = message.words
        self.bell()
        self._set_title(f"meshqc: E {message.words.replace('  ', ', ')}")
        self.tell()
        for screen in self.session_screens[1:]:  # the main one shows it for good, the others until the next key
            screen.say(f"E ALARM {message.words}")

    def _set_title(self, words: str) -> None:
        if self._driver is not None and not self.is_headless:
            self._driver.write(title_sequence(words))

    def action_stop_reading(self) -> None:
        if self.session.inspection is None:
            self._stop_reading.set()

    def on_read(self, message: Read) -> None:
        self.session.words, self.session.checking = message.words, message.checking
        self.session.take_views(message.views)
        self.tell()

    def on_checked(self, message: Checked) -> None:
        session = self.session
        session.inspection, session.settings, session.words = message.inspection, message.inspection.settings, ""
        session.checking = False
        if session.live:
            session.live = False
            self._set_title("meshqc")
        session.take_views(message.views)
        left, session.left = session.left.choices, Kept()
        self.change_choices(left)
        if left:
            self.call_after_refresh(self.say, "staged as you left it; p: plan")

    def on_stopped(self, message: Stopped) -> None:
        if message.fatal:
            self.end(message.words)
            return
        self.session.words = "" if self.session.inspection else message.words
        self.session.checking = False
        self.tell()
        self.say(message.words)

    def on_reference_chosen(self, message: ReferenceChosen) -> None:
        """Check what was read against another frame."""
        session = self.session
        if session.inspection is None:
            return
        session.words, session.checking = "checking", True
        self.tell()
        settings = replace(session.settings, reference=message.number)
        self.work(partial(engine.check_again, session.inspection, settings, self.post_message))
