"""Actions that write the corrected folder, and the message that reports whether a template was written."""

from __future__ import annotations

import threading
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from inspector.delivery.destination import free_name
from inspector.names import safe
from inspector.tui.actions.session_app import SessionApp
from inspector.tui.drawers.output_folder import OutputFolder
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.screens.written_screen import WrittenScreen
from inspector.tui.session import Session
from inspector.tui.workers import engine
from inspector.tui.workers.messages import NotPlanned, NotWritten, Planned, PlanRefused, Writing, Written

if TYPE_CHECKING:
    from inspector.tui.workers.fit_engine import TemplateDone


class WritingPart(SessionApp):
    """The part of the app that writes the corrected folder in a thread.

    Attributes:
        write_next: The folder to write once the plan is ready; None if there is none.
    """

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        super().__init__(session, glyphs)
        self.write_next: Path | None = None
        self._stop_writing = threading.Event()

    def on_unmount(self) -> None:
        self._stop_writing.set()

    def stop_writing(self) -> None:
        """Stop writing; no output folder is created."""
        self._stop_writing.set()

    def on_planned(self, _: Planned) -> None:
        """Write the folder `write_next`, if it is set and no other plan is being made."""
        if not self.session.staged.planning:
            self._write_planned()

    async def on_plan_refused(self, _: PlanRefused) -> None:
        self._stop_waiting()

    def on_not_planned(self, _: NotPlanned) -> None:
        self._stop_waiting()

    def _stop_waiting(self) -> None:
        """Clear `write_next`, unless another plan is already being made."""
        if not self.session.staged.planning:
            self.write_next = None

    async def action_write(self) -> None:
        if not self.session.staged.choices:
            self.say(self.session.no_fixes or "nothing is staged; e: stage every lossless fix, 1-9: stage one fix")
            return
        folder = OutputFolder(free_name(self.session.root))

        def done(values: Values | None) -> None:
            if values is not None:
                self.write_to(folder.typed(values["to"]))

        fields = [Field("to", value=folder.shown)]
        title = "write the corrected folder"
        prompt = Prompt(self.glyphs, title, fields, lambda values: folder.fault(values["to"]), paths=Path.cwd())
        await self.push_screen(prompt, done)

    def write_to(self, out: Path) -> None:
        """Write the corrected folder `out` as soon as the plan is ready."""
        self.write_next = out
        if self.session.staged.planning or self.session.inspection is None:
            self.say("writing starts when the plan is ready; ctrl+c: don't write")
        else:
            self._write_planned()

    def _write_planned(self) -> None:
        session, staged, out = self.session, self.session.staged, self.write_next
        if out is None or session.inspection is None:
            return
        self.write_next = None
        if staged.plan is None or not staged.plan.steps:
            fault = staged.fault
            self.say(f"not written: {fault}" if fault else "every fix was refused; the plan (p) shows why")
            return
        self._stop_writing = threading.Event()
        self.push_screen(WritingScreen(session, self.glyphs, safe(str(out))))
        stopped = self._stop_writing.is_set
        self.work(partial(engine.write, staged.plan, out, self.post_message, stopped))

    def on_writing(self, message: Writing) -> None:
        for screen in self.screen_stack:
            if isinstance(screen, WritingScreen):
                screen.show(message)

    def on_written(self, message: Written) -> None:
        staged = self.session.staged
        staged.written, staged.written_to = staged.plan, message.delivery.out
        self._uncover_progress()
        self.switch_screen(WrittenScreen(self.session, self.glyphs, message.delivery))
        self.show_session()

    def on_not_written(self, message: NotWritten) -> None:
        self._uncover_progress()
        self.pop_screen()
        self.say(message.reason)

    def _uncover_progress(self) -> None:
        """Close the screens that cover the progress screen, such as the screen that asks whether to leave."""
        while not isinstance(self.screen, WritingScreen):
            self.pop_screen()

    def on_template_done(self, message: TemplateDone) -> None:
        """Show on every screen whether the template was written, because the texture screen may no longer be open."""
        from inspector.tui.screens.opened import FitScreen

        for screen in self.session_screens:
            if isinstance(screen, FitScreen):
                screen.template_done(message.words)
        self.say(message.words)
