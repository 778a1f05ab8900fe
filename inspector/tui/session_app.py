"""The ground of the app: one session, threads that post messages, screens that are told, an orderly end."""

from __future__ import annotations

import asyncio
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from textual.app import App
from textual.events import Event, Key
from textual.worker import Worker, WorkerState

from inspector.errors import unexpected
from inspector.sequence.discovery.settings import Settings
from inspector.tui import saved_state
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.base_screen import SessionScreen, in_thread
from inspector.tui.screens.main_screen import MainScreen
from inspector.tui.session import Session
from inspector.tui.terminal import hung_up

_HANG_UP_LOOKS = 1.0  # seconds between looks whether the terminal is still there
_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class SessionApp(App[int]):
    """`fatal`: why the program had to end, empty for an end that the user wanted."""

    CSS_PATH = "style.tcss"
    ENABLE_COMMAND_PALETTE = False
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (130, "-wide")]  # noqa: RUF012 - so declared by the library

    def __init__(
        self, folder: Path, settings: Settings, glyphs: Glyphs, *, calm: bool = False, live: bool = False
    ) -> None:
        super().__init__(ansi_color=True)  # the terminal's own colours, and nothing but attributes under NO_COLOR
        self.session = Session(folder.resolve(), settings, calm=calm, live=live)
        self.session.take_up(saved_state.kept_of(self.session.root))
        self.glyphs = glyphs
        self.fatal = ""
        self._signal = 0
        self._left = False

    def get_default_screen(self) -> MainScreen:
        return MainScreen(self.session, self.glyphs)

    def on_mount(self) -> None:
        self.theme = "ansi-dark"
        if self._signal:
            self._end_by(self._signal)
        self.set_interval(_HANG_UP_LOOKS, self._look_for_terminal)
        if self._driver is not None and not self.is_headless:
            self.session.link.connect(self._driver.write)

    def on_cursor_position(self) -> None:
        """The terminal's answer to what the link asks it."""
        self.session.link.answered()

    @contextmanager
    def ended_by_signals(self) -> Iterator[None]:
        """A signal ends the app in good order, from before the first byte that it sends to the terminal until after the
        last: one that comes while the screen is put up is heard once it stands. One that comes while a thread is still
        waited for ends it at once: what is written is whole or has no name yet."""
        before = {number: signal.signal(number, self._end_by) for number in _SIGNALS}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    async def run_async(self, **words: Any) -> int | None:
        """As the library does; afterwards the terminal is what it was, but threads may still be waited for."""
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
            with suppress(RuntimeError):  # no loop any more: it has ended anyway
                asyncio.get_running_loop().call_soon_threadsafe(self.exit, 128 + number)

    def on_unmount(self) -> None:
        self.keep()

    def keep(self) -> None:
        """Keep what the next time goes on with, unless the folder could not be read."""
        if not self.fatal:
            saved_state.keep(self.session.root, self.session.kept())

    def _look_for_terminal(self) -> None:
        if not self.is_headless and hung_up():
            self.exit(128 + signal.SIGHUP)

    async def on_event(self, event: Event) -> None:
        """What the top row said stands until the next key."""
        if isinstance(event, Key) and not event.is_forwarded:
            self.say("")
        await super().on_event(event)

    @property
    def session_screens(self) -> list[SessionScreen]:
        """Those that show the session, the main one first; none while the app shuts down: a thread may end then, and
        tell of it."""
        shown = self.screen_stack if self.is_running else []
        return [screen for screen in shown if isinstance(screen, SessionScreen) and screen.is_mounted]

    def tell(self) -> None:
        """Every screen shows the session as it is now."""
        for screen in self.session_screens:
            screen.session_changed()

    def say(self, words: str) -> None:
        """Words for the top row of every screen that has a place for them."""
        for screen in self.session_screens:
            screen.say(words)

    @property
    def no_fixes(self) -> str:
        """Why nothing can be staged or written at the moment, empty where it can."""
        later = self.session.all_checks
        return f"fixes are offered {later}" if later else ""

    def work(self, work: Callable[[], None]) -> None:
        """Do the work in a thread."""
        in_thread(self, work)

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        if event.state == WorkerState.ERROR and event.worker.error is not None:
            self.end(unexpected(event.worker.error))

    def end(self, reason: str) -> None:
        """End the program, which could not do what was wanted."""
        self.fatal = reason
        self.exit()
