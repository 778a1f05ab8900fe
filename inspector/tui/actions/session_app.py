"""An app with one open folder: how it starts and ends, and the messages that it shows on every screen."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from textual.app import App
from textual.events import Event, Key, Resize
from textual.worker import Worker, WorkerState

from inspector.errors import unexpected
from inspector.tui import keys, saved_state
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.driver import AskingDriver, GraphicsKnown
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.base_screen import SessionScreen, in_thread
from inspector.tui.session import Session
from inspector.tui.terminal import hung_up, title_sequence
from inspector.tui.widgets.footer import KeyFooter

_HANG_UP_LOOKS = 1.0  # seconds between checks whether the terminal still exists
_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class SessionApp(App[int]):
    """The app without its actions. Subclasses add the actions, and MeshqcApp inherits from all of these subclasses.

    Several of the subclasses can handle the same message, because Textual runs the handlers of all base classes of
    MeshqcApp.

    Attributes:
        session: The open folder.
        glyphs: The characters that the terminal can show.
        fatal: Why the program failed; empty if it did not fail.
        next_folder: The folder to open next; None if the user chose none.
        leaving: Whether the app is ending.
    """

    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (130, "-wide")]  # noqa: RUF012 - declared like this by Textual
    VERTICAL_BREAKPOINTS = [(0, "-low"), (20, "-high"), (36, "-tall")]  # noqa: RUF012

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        # Use the terminal's own colours; if NO_COLOR is set, use only attributes.
        super().__init__(AskingDriver, ansi_color=True)
        self.session = session
        self.glyphs = glyphs
        self.fatal = ""
        self.next_folder: Path | None = None
        self._signal = 0
        self.leaving = False
        self._left = False

    # Start and end

    def on_mount(self) -> None:
        self.theme = "ansi-dark"
        if self._signal:
            self._end_by(self._signal)
        self.set_interval(_HANG_UP_LOOKS, self._look_for_terminal)
        self.app_resume_signal.subscribe(self, lambda _: self.refresh(layout=True))  # after fg the screen is blank
        if self._driver is not None and not self.is_headless:
            self.session.link.connect(self._driver.write)
        if outdated := saved_state.outdated():
            self.call_after_refresh(self.say, outdated)

    def on_cursor_position(self) -> None:
        """Measure how long the terminal took to answer."""
        self.session.link.answered()

    def on_graphics_known(self, message: GraphicsKnown) -> None:
        """Store the terminal's answer about drawing pixels, and let the screens redraw their pictures."""
        self.session.graphics = message.graphics
        for screen in self.session_screens:
            screen.graphics_changed()

    def on_resize(self, event: Resize) -> None:
        if isinstance(self._driver, AskingDriver):
            self._driver.resized(event.size)
            if event.size == self.size:  # the size changed and changed back, and Textual doesn't redraw the screen
                self.screen.refresh()

    def action_redraw(self) -> None:
        """Send the whole screen again, because another program may have written to the terminal."""
        if isinstance(self._driver, AskingDriver):
            self._driver.cells.forget()
        self.refresh(layout=True)

    @contextmanager
    def ended_by_signals(self) -> Iterator[None]:
        """Make SIGINT, SIGTERM and SIGHUP end the app in an orderly way.

        Enter this context before the app's first output to the terminal, and leave it after the last output.

        A signal that arrives during the setup of the screen takes effect after the setup. A signal that arrives while
        the app waits for its threads ends the app immediately. This is safe: an output file either is complete or
        doesn't have its final name yet.
        """
        before = {number: signal.signal(number, self._end_by) for number in _SIGNALS}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    async def run_async(self, **words: Any) -> int | None:
        """Run the app as Textual does. On return, the terminal is restored, but threads may still be running."""
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
            with suppress(RuntimeError):  # there is no loop any more, because the app has ended
                asyncio.get_running_loop().call_soon_threadsafe(self.exit, 128 + number)

    def on_unmount(self) -> None:
        self.save_state()

    def save_state(self) -> None:
        """Save the state for the next run, unless the program has failed."""
        if not self.fatal:
            saved_state.save(self.session.root, self.session.saved())

    def _look_for_terminal(self) -> None:
        if not self.is_headless and hung_up():
            self.exit(128 + signal.SIGHUP)

    def exit(self, *words: Any, **named: Any) -> None:
        """End the app as Textual does, and record in `leaving` that the app is ending."""
        self.leaving = True
        super().exit(*words, **named)

    def _handle_exception(self, error: Exception) -> None:
        """Handle an error as Textual does, but ignore errors while the app is ending, because a screen that is still
        being opened may then lose its widgets."""
        if not self.leaving:
            super()._handle_exception(error)

    def end(self, reason: str) -> None:
        """End the program because of a failure, which `reason` describes."""
        self.fatal = reason
        self.exit()

    async def action_quit(self) -> None:
        """Handle Textual's own key for quitting in the same way as this app's key."""
        await self.action_leave()

    async def action_leave(self) -> None:
        async def leave() -> None:
            await self.session.link.settle()
            self.exit(0)

        await self.ask_about_staged("leave", leave)

    async def ask_about_staged(self, words: str, leave: Callable[[], Any]) -> None:
        """Leave the folder. If staged fixes or typed captions have not been written, ask the user first.

        Args:
            words: Text of the answer with which the user agrees to leave.
            leave: Function that leaves the folder.
        """
        captions = any(typed.unwritten for typed in self.session.captions.values())
        if not self.session.staged.unwritten and not captions:
            await leave()
            return
        title = (
            "captions have unsaved changes; leaving discards these changes"
            if captions
            else "fixes are staged but not written"
        )
        if self.session.staged.unwritten:
            words += "; staged fixes are saved for next time"

        async def done(answer: int | None) -> None:
            if answer == 0:
                await leave()

        drawer = ChoiceDrawer(self.glyphs, title, [words, "stay"], 1)
        await self.push_screen(drawer, done)

    # Messages to screens

    async def on_event(self, event: Event) -> None:
        """When a key is pressed, remove the message from the screens. While the app is ending, ignore keys, because no
        screen can handle them."""
        if isinstance(event, Key) and not event.is_forwarded:
            if self.leaving:
                return
            self.say("")
        await super().on_event(event)

    def on_key(self, event: Key) -> None:
        """Show a message if the key does nothing on this screen, but has a meaning on the main screen."""
        if not isinstance(self.screen, SessionScreen) or not event.is_printable:
            return
        table = self.screen.query_one(KeyFooter).table
        here = any(event.key in key.keys for key in (*table, *keys.LIST))
        there = next((key for key in keys.MAIN if event.key in key.keys), None)
        if there is not None and not here:
            self.say(f"{event.character} ({there.name}) works on the main screen, not here")

    @property
    def session_screens(self) -> list[SessionScreen]:
        """The screens that show the session, the main screen first.

        While the app shuts down, the list is empty, so that messages from threads that are still running have no
        effect.
        """
        shown = self.screen_stack if self.is_running else []
        return [screen for screen in shown if isinstance(screen, SessionScreen) and screen.is_mounted]

    def show_session(self) -> None:
        for screen in self.session_screens:
            screen.session_changed()

    def say(self, words: str) -> None:
        """Show a message on every screen until a key is pressed."""
        for screen in self.session_screens:
            screen.say(words)

    def work(self, work: Callable[[], None]) -> None:
        in_thread(self, work)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        if event.state == WorkerState.ERROR and event.worker.error is not None:
            self.end(unexpected(event.worker.error))

    def set_title(self, words: str) -> None:
        if self._driver is not None and not self.is_headless:
            self._driver.write(title_sequence(words))
