"""Writing the corrected folder: where to, how far, what came of it."""

from __future__ import annotations

import threading
from functools import partial
from pathlib import Path

from inspector.delivery.destination import free_name
from inspector.names import safe
from inspector.tui.drawers.output_folder import OutputFolder
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.session_app import SessionApp
from inspector.tui.widgets.delivery_text import delivery_card
from inspector.tui.workers import engine
from inspector.tui.workers.messages import NotWritten, Writing, Written


class WritingApp(SessionApp):
    """Nothing is written before the user has said where to."""

    _stop_writing = threading.Event()

    def on_unmount(self) -> None:
        self._stop_writing.set()

    async def action_write(self) -> None:
        if not self.session.choices:
            self.say(self.no_fixes or "nothing is staged: number keys stage a fix, e stages every exact fix")
            return
        folder = OutputFolder(free_name(self.session.root))

        def fault(values: Values) -> str | None:
            return self._not_ready() or folder.fault(values["to"])

        def done(values: Values | None) -> None:
            if values is not None:
                self._write_to(folder.typed(values["to"]))

        fields = [Field("to", value=folder.shown)]
        await self.push_screen(Prompt(self.glyphs, "write the corrected folder", fields, fault), done)

    def _not_ready(self) -> str | None:
        session = self.session
        if session.planning:
            return "the plan is still being worked out; press enter again in a moment"
        if session.plan is None or not session.plan.steps:
            return "every fix was refused; the plan (p) says why"
        return None

    def _write_to(self, out: Path) -> None:
        session = self.session
        if session.inspection is None or session.plan is None:
            return
        self._stop_writing = threading.Event()
        self.push_screen(WritingScreen(session, self.glyphs, safe(str(out))))
        stopped = self._stop_writing.is_set
        self.work(partial(engine.write, session.inspection, session.plan, out, self.post_message, stopped))

    def action_stop_writing(self) -> None:
        self._stop_writing.set()

    def on_writing(self, message: Writing) -> None:
        if isinstance(self.screen, WritingScreen):
            self.screen.show(message)

    def on_written(self, message: Written) -> None:
        self.session.written, self.session.written_to = self.session.plan, message.delivery.out
        card = delivery_card(message.delivery)
        title = "written and proven" if message.delivery.proof.clean else "written; read what is left"
        self.switch_screen(TextScreen(self.session, self.glyphs, title, card))
        self.tell()

    def on_not_written(self, message: NotWritten) -> None:
        self.pop_screen()
        self.say(message.reason)
