"""The terminal UI: one session, threads that post messages, screens that show what changed, and an orderly end."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import replace
from fractions import Fraction
from functools import partial
from pathlib import Path
from typing import Any

from textual.app import App, SuspendNotSupported
from textual.events import Event, Key
from textual.worker import Worker, WorkerState

from inspector.delivery.choices import lossless_choices
from inspector.delivery.destination import free_name
from inspector.errors import unexpected
from inspector.fixes.base.fix import AnyFix
from inspector.names import counted, safe
from inspector.sequence.discovery.settings import Settings
from inspector.tui import saved_state
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.commands import CommandsDrawer
from inspector.tui.drawers.output_folder import OutputFolder
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.driver import AskingDriver, GraphicsKnown
from inspector.tui.glyphs import Glyphs
from inspector.tui.outside import clipboard_sequence, copyable, editor_command
from inspector.tui.screens.base_screen import SessionScreen, in_thread
from inspector.tui.screens.fit_screen import FitScreen
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.screens.plan_screen import PlanScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.screens.writing_screen import WritingScreen
from inspector.tui.screens.written_screen import WrittenScreen
from inspector.tui.session import Selection, Session, Undo
from inspector.tui.staging import Choices, stage, take_out, with_lossless, without
from inspector.tui.terminal import hung_up, title_sequence
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.help_text import help_card
from inspector.tui.workers import engine, live_engine
from inspector.tui.workers.fit_engine import TemplateDone
from inspector.tui.workers.messages import (
    Alarm,
    Checked,
    FixesTaken,
    NotWritten,
    Planned,
    Planning,
    PlanRefused,
    Read,
    ReferenceChosen,
    RulesTaken,
    Stopped,
    Unstaged,
    Writing,
    Written,
)

_HANG_UP_LOOKS = 1.0  # seconds between checks whether the terminal still exists
_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
_UNDO_STEPS = 100


class MeshqcApp(App[int]):
    """The app. Screens show the session and post requests of the user; only the app stages fixes or reads folders.

    Args:
        folder: The folder, or a frame file in it to put the cursor on.
        settings: The user's statements about it.
        glyphs: The characters that the terminal can show.
        calm: Whether nothing on the screen may move by itself.
        live: Whether to watch an export into the folder.

    Attributes:
        session: The open folder.
        fatal: Why the program had to end; empty for an end that the user wanted.
        next_folder: The folder to open next, if the user chose one.
    """

    CSS_PATH = "style.tcss"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (130, "-wide")]  # noqa: RUF012 - declared like this by the library
    VERTICAL_BREAKPOINTS = [(0, "-low"), (20, "-high")]  # noqa: RUF012

    def __init__(
        self,
        folder: Path,
        settings: Settings,
        glyphs: Glyphs,
        *,
        calm: bool = False,
        live: bool = False,
    ) -> None:
        # The terminal's own colours, and nothing but attributes under NO_COLOR.
        super().__init__(AskingDriver, ansi_color=True)
        path = folder.resolve()
        self._first_file = path if path.is_file() else None  # the frame to put the cursor on
        self.session = Session(path.parent if path.is_file() else path, settings, calm=calm)
        self.session.status.live = live
        self.session.take_up(saved_state.load(self.session.root))
        self.glyphs = glyphs
        self.fatal = ""
        self.next_folder: Path | None = None
        self._signal = 0
        self._left = False
        self._stop_reading = threading.Event()
        self._stop_writing = threading.Event()
        self._before = self.session.inspection  # what is kept if the folder can't be read again
        self._write_next: Path | None = None  # folder to write once the plan is ready
        self._typed: Values | None = None  # parameters of the last fix that was tried

    def get_default_screen(self) -> MainScreen:
        return MainScreen(self.session, self.glyphs)

    # Start and end

    def on_mount(self) -> None:
        self.theme = "ansi-dark"
        if self._signal:
            self._end_by(self._signal)
        self.set_interval(_HANG_UP_LOOKS, self._look_for_terminal)
        self.app_resume_signal.subscribe(self, lambda _: self.refresh(layout=True))  # after fg the screen is blank
        if self._driver is not None and not self.is_headless:
            self.session.link.connect(self._driver.write)
        if self.session.status.live:
            self._watch()
        else:
            self.action_again()
        if outdated := saved_state.outdated():
            self.call_after_refresh(self.say, outdated)

    def on_cursor_position(self) -> None:
        """The terminal's answer to the link's question."""
        self.session.link.answered()

    def on_graphics_known(self, message: GraphicsKnown) -> None:
        """The terminal's answer to the questions about pixels."""
        self.session.graphics = message.graphics
        for screen in self.session_screens:
            screen.graphics_changed()

    def on_resize(self) -> None:
        if isinstance(self._driver, AskingDriver):
            self._driver.ask_cell_size()

    @contextmanager
    def ended_by_signals(self) -> Iterator[None]:
        """Let signals end the app in an orderly way, from before its first byte to the terminal until after its last.

        A signal that arrives while the screen is being set up takes effect once it is set up. A signal that arrives
        while a thread is still awaited ends the app immediately: files that are written are complete, or have no final
        name yet.
        """
        before = {number: signal.signal(number, self._end_by) for number in _SIGNALS}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    async def run_async(self, **words: Any) -> int | None:
        """Run as the library does. Afterwards the terminal is as it was, but threads may still be running."""
        try:
            return await super().run_async(**words)
        finally:
            self._left = True

    def _end_by(self, number: int, _: object = None) -> None:
        self._signal = number
        if self._left:
            signal.signal(number, signal.SIG_DFL)
            signal.raise_signal(number)
        if self.is_running:
            with suppress(RuntimeError):  # no loop any more, so it has ended
                asyncio.get_running_loop().call_soon_threadsafe(self.exit, 128 + number)

    def on_unmount(self) -> None:
        self._stop_reading.set()
        self._stop_writing.set()
        self.save_state()

    def save_state(self) -> None:
        """Save the state for the next run, unless the folder could not be read."""
        if not self.fatal:
            saved_state.save(self.session.root, self.session.saved())

    def _look_for_terminal(self) -> None:
        if not self.is_headless and hung_up():
            self.exit(128 + signal.SIGHUP)

    def end(self, reason: str) -> None:
        """End the program because of a failure."""
        self.fatal = reason
        self.exit()

    async def action_quit(self) -> None:
        """The library's own key for leaving, which asks the same question as ours."""
        await self.action_leave()

    async def action_leave(self) -> None:
        async def leave() -> None:
            await self.session.link.settle()
            self.exit(0)

        await self._ask_about_staged("leave", leave)

    async def _ask_about_staged(self, words: str, leave: Callable[[], Any]) -> None:
        """Leave the folder, after a question if something is staged or typed and not written."""
        captions = any(typed.unwritten for typed in self.session.captions.values())
        if not self.session.staged.unwritten and not captions:
            await leave()
            return
        title = (
            "captions are typed but not written; leaving loses them" if captions else "fixes are staged but not written"
        )
        if self.session.staged.unwritten:
            words += "; staged fixes are saved for the next time"

        async def done(answer: int | None) -> None:
            if answer == 0:
                await leave()

        drawer = ChoiceDrawer(self.glyphs, title, [words, "stay"], 1)
        await self.push_screen(drawer, done)

    # Messages to screens

    async def on_event(self, event: Event) -> None:
        """Keep a message until the next key."""
        if isinstance(event, Key) and not event.is_forwarded:
            self.say("")
        await super().on_event(event)

    @property
    def session_screens(self) -> list[SessionScreen]:
        """The screens that show the session, the main screen first; none while the app shuts down, when a thread may
        still post.
        """
        shown = self.screen_stack if self.is_running else []
        return [screen for screen in shown if isinstance(screen, SessionScreen) and screen.is_mounted]

    def tell(self) -> None:
        """Let every screen show the session as it is now."""
        for screen in self.session_screens:
            screen.session_changed()

    def say(self, words: str) -> None:
        """Show a message on every screen until the next key."""
        for screen in self.session_screens:
            screen.say(words)

    def work(self, work: Callable[[], None]) -> None:
        """Run a function in a thread."""
        in_thread(self, work)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        if event.state == WorkerState.ERROR and event.worker.error is not None:
            self.end(unexpected(event.worker.error))

    def _set_title(self, words: str) -> None:
        if self._driver is not None and not self.is_headless:
            self._driver.write(title_sequence(words))

    # Help and commands

    async def action_help(self) -> None:
        table = self.screen.query_one(KeyFooter).table
        await self.push_screen(TextScreen(self.session, self.glyphs, "help", help_card(self.glyphs, table)))

    async def action_commands(self) -> None:
        """Run the command that is chosen from those of the current screen; a number goes to that frame."""
        screen = self.screen

        async def done(action: str | None) -> None:
            if action is not None:
                await self.run_action(action, screen)

        await self.push_screen(CommandsDrawer(self.glyphs, screen.query_one(KeyFooter).table), done)

    def action_help_quit(self) -> None:
        """ctrl+c, for which the library would show a notification."""
        self.action_stop()

    def action_stop(self) -> None:
        """Stop the running work."""
        if isinstance(self.screen, WritingScreen):
            self._stop_writing.set()
        elif self._write_next is not None:
            self._write_next = None
            self.say("not written")
        elif self.session.inspection is None and self.session.status.text:
            self._stop_reading.set()
        else:
            self.say("nothing is running; q: quit")

    def action_undo(self) -> None:
        if not self.session.undo:
            self.say("nothing to undo")
            return
        step = self.session.undo.pop()
        step.restore()
        self.tell()
        self.say(f"undone: {step.name}")

    # Reading and watching

    def action_again(self) -> None:
        """Read the folder again."""
        session = self.session
        self._begin("reading", live=False)
        stopped = self._stop_reading.is_set
        reading = partial(engine.read_and_check, session.root, session.settings, self.post_message, stopped)
        self.work(partial(reading, lambda: session.on_screen))

    def _begin(self, text: str, *, live: bool) -> None:
        """Stop reading or watching. Staged fixes are kept, and planned again once the folder is checked."""
        session = self.session
        self._stop_reading.set()
        self._stop_reading = threading.Event()
        self._before = session.inspection or self._before
        session.inspection = None
        session.status.text, session.status.live, session.status.checking = text, live, False
        session.status.alarms = []
        self.tell()

    def action_live(self) -> None:
        """Start or end watching an export into the folder."""
        if self.session.status.live:
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
        """Raise an alarm by sound, in the top row, and in the terminal's title; nothing flashes."""
        self.session.status.alarms.append(message.words)
        self.bell()
        self._set_title(f"meshqc: E {message.words.replace('  ', ', ')}")
        self.tell()
        for screen in self.session_screens[1:]:  # the main screen shows it until watching ends, the others until a key
            screen.alarm(f"E ALARM {message.words}")

    async def action_alarms(self) -> None:
        alarms = self.session.status.alarms
        if not alarms:
            self.say("no alarms: L watches an export" if not self.session.status.live else "no alarms so far")
            return
        card = Card()
        for words in alarms:
            card.add("E", words, hang=True)
        title = counted(len(alarms), "alarm")
        await self.push_screen(TextScreen(self.session, self.glyphs, title, card))

    def _go_to_first_file(self) -> None:
        """Put the cursor on the frame file that the program was opened with."""
        file, self._first_file = self._first_file, None if self.session.views else self._first_file
        for at, view in enumerate(self.session.views):
            for facts in view.facts:
                if file is not None and facts.file.path == file:
                    self.session.selection = Selection(at, (facts.number, 0))
                    self.session.fresh = False

    def on_read(self, message: Read) -> None:
        status = self.session.status
        status.text, status.checking = message.words, message.checking
        self.session.take_views(message.views)
        self._go_to_first_file()
        self.tell()

    def on_checked(self, message: Checked) -> None:
        session = self.session
        session.inspection, session.settings = message.inspection, message.inspection.settings
        session.status.text, session.status.checking = "", False
        if session.status.live:
            session.status.live = False
            self._set_title("meshqc")
        session.take_views(message.views)
        self._go_to_first_file()
        if session.fresh:
            session.selection.sequence, session.selection.finding = 0, None  # the worst sequence
        previous, session.previous = session.previous, saved_state.SavedState()
        choices = session.staged.choices or previous.choices
        if choices:
            session.staged.choices, session.staged.accepted = choices, ()
            planning = partial(engine.plan_again, message.inspection, choices, self.post_message)
            self.work(partial(planning, partial(self._wanted, choices)))
        self.tell()
        if previous.choices:
            self.call_after_refresh(self.say, "your staged fixes are restored; p: plan, u: undo")

    def on_stopped(self, message: Stopped) -> None:
        session = self.session
        if message.fatal and not session.views:
            self.end(message.words)
            return
        session.status.checking = False
        session.status.text = "" if session.inspection else message.words
        if message.fatal:
            session.inspection, session.status.live, session.status.text = self._before, False, ""
            if session.inspection is not None:
                session.take_views(engine.views_of(session.inspection))
        self.tell()
        self.say(f"{message.words}; r: read again, o: open another folder" if message.fatal else message.words)

    def on_reference_chosen(self, message: ReferenceChosen) -> None:
        """Check the measured frames with another reference frame."""
        session = self.session
        if session.inspection is None:
            self.say(f"the reference can be changed {session.all_checks}")
            return
        before = session.settings.reference
        session.undo.append(Undo("change of reference", partial(self._check_with, before)))
        self._check_with(message.number)

    def _check_with(self, reference: Fraction | None) -> None:
        self._check_under(replace(self.session.settings, reference=reference))

    def on_rules_taken(self, message: RulesTaken) -> None:
        """Check the measured frames by other delivery rules."""
        session = self.session
        session.undo.append(Undo("change of delivery rules", partial(self._check_under, session.settings)))
        self._check_under(session.settings.under(message.rules))

    def _check_under(self, settings: Settings) -> None:
        session = self.session
        if session.inspection is None:
            return
        session.status.text, session.status.checking = "checking", True
        self.tell()
        self.work(partial(engine.check_again, session.inspection, settings, self.post_message))

    # Staging: a plan is made of each change of the choices, in a thread

    def change_choices(self, choices: Choices, tried: str = "", *, undo: str = "") -> None:
        """Set the wanted choices and have a plan made of them.

        Args:
            choices: All choices.
            tried: Id of the fix that this is about, for a refusal.
            undo: Name of the change for undo; empty for a change that can't be undone.
        """
        staged = self.session.staged
        if undo:
            self.session.undo.append(Undo(undo, partial(self.change_choices, staged.choices)))
            del self.session.undo[:-_UNDO_STEPS]
        staged.choices, staged.tried = choices, tried
        staged.refused.clear()
        staged.progress = None
        self._plan(choices)
        self.tell()

    def _plan(self, choices: Choices) -> None:
        staged, inspection = self.session.staged, self.session.inspection
        if not choices or inspection is None:
            staged.accepted, staged.plan = choices, None
        else:
            self.work(partial(engine.plan, inspection, choices, self.post_message, partial(self._wanted, choices)))

    def _wanted(self, choices: Choices) -> bool:
        return self.session.staged.choices is choices

    def on_planning(self, message: Planning) -> None:
        self.session.staged.progress = message.done, message.of
        for screen in self.session_screens:
            if isinstance(screen, PlanScreen):
                screen.session_changed()

    def on_planned(self, message: Planned) -> None:
        staged = self.session.staged
        if not self._wanted(message.asked):
            return
        staged.choices = staged.accepted = message.choices
        staged.plan = message.plan if message.choices else None
        self.save_state()
        self.tell()
        if message.dropped:
            self.say(f"no longer staged: {'; '.join(message.dropped)}")
        self._write_planned()

    async def on_plan_refused(self, message: PlanRefused) -> None:
        session, staged = self.session, self.session.staged
        if not self._wanted(message.choices):
            return
        self._write_next = None
        staged.choices = staged.accepted
        staged.refused[staged.tried] = message.reason
        if session.undo:
            session.undo.pop()  # nothing has changed
        self.tell()
        typed, self._typed = self._typed, None
        offer = next((offer for offer in session.offers() if offer.fix.id == staged.tried), None)
        if typed is not None and any(typed.values()) and offer is not None:
            await self._ask_parameters(offer.fix, typed, message.reason)
        else:
            self.say(f"refused: {message.reason}")

    @property
    def _no_fixes(self) -> str:
        """Why nothing can be staged or written at the moment; empty if it can."""
        later = self.session.all_checks
        return f"fixes are offered {later}" if later else ""

    async def action_fix(self, number: int) -> None:
        """Stage the fix with this number, or unstage it."""
        session = self.session
        offers, finding, key = session.offers(), session.finding, session.key
        if finding is None or key is None or number > len(offers):
            self.say(self._no_fixes or "no fix with this number here")
            return
        offer = offers[number - 1]
        if offer.staged:
            choices = take_out(session.staged.choices, offer, finding, key)
            self.change_choices(choices, undo=f"unstaging of {offer.fix.title}")
        elif offer.fix.parameters:
            await self._ask_parameters(offer.fix, {}, "")
        else:
            self._stage(offer.fix, {})

    async def _ask_parameters(self, fix: AnyFix, typed: Values, refused: str) -> None:
        def done(values: Values | None) -> None:
            if values is not None:
                self._stage(fix, values)

        fields = [Field(name, meaning, typed.get(name, "")) for name, meaning in fix.parameters.items()]
        note = f"refused: {refused}" if refused else ""
        if fix.path:
            prompt = Prompt(self.glyphs, fix.title, fields, note=note, paths=Path.cwd(), files=True)
        else:
            prompt = Prompt(self.glyphs, f"{fix.title}: leave blank for automatic", fields, note=note)
        await self.push_screen(prompt, done)

    def _stage(self, fix: AnyFix, values: Values) -> None:
        session = self.session
        if session.finding is None or session.key is None:
            return
        self._typed = values
        given = {name: text for name, text in values.items() if text}
        choices = stage(session.staged.choices, fix, session.finding, session.key, given)
        self.change_choices(choices, fix.id, undo=f"staging of {fix.title}")

    def action_stage_lossless(self) -> None:
        session = self.session
        if session.inspection is None:
            self.say(self._no_fixes)
            return
        choices = with_lossless(session.staged.choices, lossless_choices(session.inspection))
        if choices == session.staged.choices:
            self.say("every lossless fix is already staged" if choices else "no finding has a lossless fix")
        else:
            self.change_choices(choices, undo="staging of every lossless fix")
            self.say("every lossless fix is staged; p: plan, w: write, u: undo")

    async def action_plan(self) -> None:
        await self.push_screen(PlanScreen(self.session, self.glyphs))

    def on_fixes_taken(self, message: FixesTaken) -> None:
        self.change_choices(message.choices, undo="staging of the plan")

    def on_unstaged(self, message: Unstaged) -> None:
        choices = without(self.session.staged.choices, message.fix, message.key)
        self.change_choices(choices, undo=f"unstaging of {message.fix}")

    # Writing

    async def action_write(self) -> None:
        if not self.session.staged.choices:
            self.say(self._no_fixes or "nothing is staged: e stages every lossless fix, a number stages one")
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
        """Write the corrected folder as soon as the plan is ready."""
        self._write_next = out
        if self.session.staged.planning or self.session.inspection is None:
            self.say("making the plan, then writing; ctrl+c: don't write")
        else:
            self._write_planned()

    def _write_planned(self) -> None:
        session, staged, out = self.session, self.session.staged, self._write_next
        if out is None or session.inspection is None:
            return
        self._write_next = None
        if staged.plan is None or not staged.plan.steps:
            self.say("every fix was refused; the plan (p) says why")
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
        self.switch_screen(WrittenScreen(self.session, self.glyphs, message.delivery))
        self.tell()

    def on_not_written(self, message: NotWritten) -> None:
        self.pop_screen()
        self.say(message.reason)

    def on_template_done(self, message: TemplateDone) -> None:
        """Report the template; the texture page may have been left in the meantime."""
        for screen in self.session_screens:
            if isinstance(screen, FitScreen):
                screen.template_done(message.words)
        self.say(message.words)

    # Other folders, the clipboard, the editor

    async def action_open(self) -> None:
        """Open another folder: a recent folder, or one whose path is typed."""
        here = self.session.root
        recent = [folder for folder in saved_state.recent_folders() if folder != here][:8]

        async def done(answer: int | None) -> None:
            if answer is None:
                return
            if answer < len(recent):
                await self._open_folder(recent[answer])
            else:
                await self._ask_folder()

        if recent:
            lines = [*(safe(str(folder)) for folder in recent), "another folder, by its path"]
            await self.push_screen(ChoiceDrawer(self.glyphs, "open", lines), done)
        else:
            await self._ask_folder()

    async def _ask_folder(self) -> None:
        base = self.session.root.parent

        def folder(values: Values) -> Path:
            return base / Path(values["folder"]).expanduser()

        async def done(values: Values | None) -> None:
            if values is not None:
                await self._open_folder(folder(values))

        def fault(values: Values) -> str | None:
            return None if values["folder"] and folder(values).is_dir() else "not a folder"

        fields = [Field("folder", f"relative paths start at {base}")]
        await self.push_screen(Prompt(self.glyphs, "open a folder", fields, fault, paths=base), done)

    async def _open_folder(self, folder: Path) -> None:
        async def leave() -> None:
            await self.session.link.settle()
            self.next_folder = folder
            self.exit(0)

        await self._ask_about_staged("leave this folder", leave)

    async def action_open_written(self) -> None:
        """Open the corrected folder."""
        out = self.session.staged.written_to
        if out is not None and out.is_dir():
            await self._open_folder(out)
        else:
            self.say("no corrected folder yet: w writes one")

    async def action_copy(self) -> None:
        """Copy something that is on the screen."""
        texts = copyable(self.session)
        lines = [f"{name}: {safe(text)}" for name, text in texts]

        def done(answer: int | None) -> None:
            if answer is not None:
                if self._driver is not None and not self.is_headless:
                    self._driver.write(clipboard_sequence(texts[answer][1]))
                self.say(f"copied the {texts[answer][0]}, if the terminal allows it")

        await self.push_screen(ChoiceDrawer(self.glyphs, "copy", lines), done)

    def action_editor(self) -> None:
        """Open the frame's file in the user's editor."""
        command = editor_command(self.session, os.environ)
        if command is None:
            self.say("no file for this frame")
            return
        try:
            with self.suspend():
                subprocess.run(command, check=False)
        except SuspendNotSupported:
            self.say("the editor can't be opened from here")
        except OSError as error:
            self.say(f"{safe(command[0])}: {error.strerror}; set $EDITOR")
