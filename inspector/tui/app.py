"""The keyboard face: one app that owns the session and the threads; screens show, keys ask."""

from __future__ import annotations

import asyncio
import os
import signal
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from threading import Event

from textual.app import App
from textual.worker import Worker, WorkerState

from inspector.delivery.plan import exact_choices
from inspector.errors import MeshqcError
from inspector.sequence.settings import Settings
from inspector.tui import engine
from inspector.tui.choice import ChoiceDrawer
from inspector.tui.delivery_text import delivery_card
from inspector.tui.finding_screen import FindingScreen
from inspector.tui.glyphs import ASCII, UNICODE, Glyphs
from inspector.tui.help_text import help_card
from inspector.tui.main_screen import MainScreen
from inspector.tui.messages import (
    Checked,
    NotWritten,
    Planned,
    PlanRefused,
    Read,
    ReferenceChosen,
    Stopped,
    TakenOut,
    Writing,
    Written,
)
from inspector.tui.output_folder import folder_fault, suggested_folder, typed_folder
from inspector.tui.parameters import parameter_fields, parameter_values
from inspector.tui.plan_screen import PlanScreen
from inspector.tui.prompt import Field, Prompt, Values
from inspector.tui.screen import SessionScreen
from inspector.tui.session import Session
from inspector.tui.staging import Choices, stage, take_out, with_exact, without
from inspector.tui.terminal import hung_up, require_screen, speaks_utf8
from inspector.tui.text_screen import TextScreen
from inspector.tui.writing_screen import WritingScreen

_HANG_UP_LOOKS = 1.0  # seconds between looks whether the terminal is still there


def run(folder: Path, settings: Settings) -> int:
    """Open the keyboard face on a folder; returns an exit code. Raises MeshqcError without a usable terminal, or for
    a folder that can't be read."""
    require_screen()
    app = MeshqcApp(folder, settings, UNICODE if speaks_utf8(os.environ) else ASCII)
    code = app.run(mouse=False)
    if app.fatal:
        raise MeshqcError(app.fatal)
    return code or 0


class MeshqcApp(App[int]):
    """Changes the session, starts threads, and tells the screens."""

    CSS_PATH = "style.tcss"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (130, "-wide")]  # noqa: RUF012 - so declared by the library

    def __init__(self, folder: Path, settings: Settings, glyphs: Glyphs) -> None:
        super().__init__()
        self.session = Session(folder.resolve(), settings)
        self.glyphs = glyphs
        self.fatal = ""
        self._stop = Event()

    def get_default_screen(self) -> MainScreen:
        return MainScreen(self.session, self.glyphs)

    def on_mount(self) -> None:
        self.theme = "ansi-dark"
        loop = asyncio.get_running_loop()
        for number in (signal.SIGTERM, signal.SIGHUP):
            loop.add_signal_handler(number, self.exit, 128 + number)
        self.set_interval(_HANG_UP_LOOKS, self._look_for_terminal)
        self.action_again()

    def on_unmount(self) -> None:
        self._stop.set()

    def _look_for_terminal(self) -> None:
        if not self.is_headless and hung_up():
            self.exit(128 + signal.SIGHUP)

    def _tell(self) -> None:
        """Every screen shows the session as it is now."""
        for screen in self.screen_stack:
            if isinstance(screen, SessionScreen) and screen.is_mounted:
                screen.session_changed()

    def _say(self, words: str) -> None:
        """Words for the top row of the main screen."""
        for screen in self.screen_stack:
            if isinstance(screen, MainScreen):
                screen.say(words)

    def _work(self, work: Callable[[], None]) -> None:
        self.run_worker(work, thread=True, exit_on_error=False)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        if event.state == WorkerState.ERROR:
            error = event.worker.error
            self._end(f"an error of meshqc itself: {type(error).__name__}: {error}")

    def _end(self, reason: str) -> None:
        self.fatal = reason
        self.exit(2)

    # reading and checking

    def action_again(self) -> None:
        """Read the folder again; what is staged belongs to what was read before, and goes."""
        session = self.session
        self._stop.set()
        self._stop = Event()
        session.inspection, session.words = None, "reading"
        self._change_choices(())
        work = engine.read_and_check
        self._work(partial(work, session.root, session.settings, self.post_message, self._stop.is_set))

    def action_stop_reading(self) -> None:
        if self.session.inspection is None:
            self._stop.set()

    def on_read(self, message: Read) -> None:
        self.session.words = message.words
        self.session.take_views(message.views)
        self._tell()

    def on_checked(self, message: Checked) -> None:
        self.session.inspection = message.inspection
        self.session.settings = message.inspection.settings
        self.session.words = ""
        self.session.take_views(message.views)
        self._tell()

    def on_stopped(self, message: Stopped) -> None:
        if message.fatal:
            self._end(message.words)
            return
        self.session.words = "" if self.session.inspection else message.words
        self._tell()
        self._say(message.words)

    def on_reference_chosen(self, message: ReferenceChosen) -> None:
        session = self.session
        if session.inspection is None:
            return
        self._change_choices(())
        session.words = "checking"
        self._tell()
        settings = replace(session.settings, reference=message.number)
        self._work(partial(engine.check_again, session.inspection, settings, self.post_message))

    # staging

    def _change_choices(self, choices: Choices, tried: str = "") -> None:
        """Make these the wanted choices and have a plan made of them. tried: the fix that this is about."""
        session = self.session
        session.choices, session.tried = choices, tried
        session.refused.clear()
        if not choices or session.inspection is None:
            session.accepted, session.plan = choices, None
        else:
            wanted = partial(self._wanted, choices)
            self._work(partial(engine.plan, session.inspection, choices, self.post_message, wanted))
        self._tell()

    def _wanted(self, choices: Choices) -> bool:
        return self.session.choices is choices

    def on_planned(self, message: Planned) -> None:
        if self._wanted(message.choices):
            self.session.accepted, self.session.plan = message.choices, message.plan
            self._tell()

    def on_plan_refused(self, message: PlanRefused) -> None:
        session = self.session
        if self._wanted(message.choices):
            session.choices = session.accepted
            session.refused[session.tried] = message.reason
            self._tell()
            self._say(f"refused: {message.reason}")

    def action_fix(self, number: int) -> None:
        """Stage the fix with this number, or take it out."""
        session = self.session
        offers, finding, key = session.offers(), session.finding, session.key
        if finding is None or key is None or number > len(offers):
            self._say("no fix with this number here")
            return
        fix = offers[number - 1].fix
        if offers[number - 1].staged:
            self._change_choices(take_out(session.choices, offers[number - 1], finding, key))
        elif not fix.parameters:
            self._change_choices(stage(session.choices, fix, finding, key, {}), fix.id)
        else:

            def done(values: Values | None) -> None:
                if values is not None:
                    given = parameter_values(values)
                    self._change_choices(stage(session.choices, fix, finding, key, given), fix.id)

            title = f"{fix.title}: what is left empty is worked out"
            self.push_screen(Prompt(self.glyphs, title, parameter_fields(fix)), done)

    def action_stage_exact(self) -> None:
        session = self.session
        if session.inspection is None:
            return
        choices = with_exact(session.choices, exact_choices(session.inspection))
        if choices == session.choices:
            self._say("every exact fix is staged already" if choices else "no finding that an exact fix answers")
        else:
            self._change_choices(choices)

    def on_taken_out(self, message: TakenOut) -> None:
        self._change_choices(without(self.session.choices, message.fix, message.key))

    # screens

    def on_read_in_full(self) -> None:
        self.push_screen(FindingScreen(self.session, self.glyphs))

    def action_plan(self) -> None:
        self.push_screen(PlanScreen(self.session, self.glyphs))

    def action_help(self) -> None:
        self.push_screen(TextScreen(self.session, self.glyphs, "help", help_card()))

    def action_leave(self) -> None:
        if not self.session.unwritten:
            self.exit(0)
            return

        def done(answer: int | None) -> None:
            if answer == 0:
                self.exit(0)

        lines = ["leave, and write nothing", "stay"]
        self.push_screen(ChoiceDrawer(self.glyphs, "fixes are staged and not written", lines, 1), done)

    # writing

    def action_write(self) -> None:
        session = self.session
        if session.planning:
            self._say("the plan is still being worked out")
        elif session.plan is None or not session.plan.steps:
            self._say("nothing is staged: number keys stage a fix, e stages every exact fix")
        else:
            field = Field("to", value=str(suggested_folder(session.root)))
            self.push_screen(Prompt(self.glyphs, "write the corrected folder", [field], folder_fault), self._write_to)

    def _write_to(self, values: Values | None) -> None:
        session = self.session
        if values is None or session.inspection is None or session.plan is None:
            return
        out = typed_folder(values["to"])
        self._stop = Event()
        self.push_screen(WritingScreen(session, self.glyphs, str(out)))
        work = engine.write
        self._work(partial(work, session.inspection, session.plan, out, self.post_message, self._stop.is_set))

    def action_stop_writing(self) -> None:
        self._stop.set()

    def on_writing(self, message: Writing) -> None:
        if isinstance(self.screen, WritingScreen):
            self.screen.show(message)

    def on_written(self, message: Written) -> None:
        self.session.written = self.session.plan
        card = delivery_card(message.delivery)
        title = "written and proven" if message.delivery.proof.clean else "written; read what is left"
        self.switch_screen(TextScreen(self.session, self.glyphs, title, card))
        self._tell()

    def on_not_written(self, message: NotWritten) -> None:
        self.pop_screen()
        self._say(message.reason)
