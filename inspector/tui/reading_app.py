"""Reading the folder and checking it, in a thread that can be stopped."""

from __future__ import annotations

import threading
from dataclasses import replace
from functools import partial

from inspector.tui import engine
from inspector.tui.messages import Checked, Read, ReferenceChosen, Stopped
from inspector.tui.staging_app import StagingApp


class ReadingApp(StagingApp):
    """What is staged belongs to what was read, and goes when that changes."""

    _stop_reading = threading.Event()

    def on_mount(self) -> None:
        self.action_again()

    def on_unmount(self) -> None:
        self._stop_reading.set()

    def action_again(self) -> None:
        """Read the folder again."""
        session = self.session
        self._stop_reading.set()
        self._stop_reading = threading.Event()
        session.inspection, session.words = None, "reading"
        self.change_choices(())
        stopped = self._stop_reading.is_set
        reading = partial(engine.read_and_check, session.root, session.settings, self.post_message, stopped)
        self.work(partial(reading, lambda: session.on_screen))

    def action_stop_reading(self) -> None:
        if self.session.inspection is None:
            self._stop_reading.set()

    def on_read(self, message: Read) -> None:
        self.session.words = message.words
        self.session.take_views(message.views)
        self.tell()

    def on_checked(self, message: Checked) -> None:
        session = self.session
        session.inspection, session.settings, session.words = message.inspection, message.inspection.settings, ""
        session.take_views(message.views)
        self.change_choices(())

    def on_stopped(self, message: Stopped) -> None:
        if message.fatal:
            self.end(message.words)
            return
        self.session.words = "" if self.session.inspection else message.words
        self.tell()
        self.say(message.words)

    def on_reference_chosen(self, message: ReferenceChosen) -> None:
        """Check what was read against another frame."""
        session = self.session
        if session.inspection is None:
            return
        session.words = "checking"
        self.tell()
        settings = replace(session.settings, reference=message.number)
        self.work(partial(engine.check_again, session.inspection, settings, self.post_message))
