"""An extended version of Textual's driver.

It asks whether the terminal can draw pixels, sends only the cells that change, and copes with a terminal that has gone
away.
"""

from __future__ import annotations

import asyncio
import os
import selectors
import signal
from codecs import getincrementaldecoder
from collections.abc import Callable
from contextlib import suppress
from typing import IO, TYPE_CHECKING, Any

from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.geometry import Size
from textual.message import Message

from inspector.tui.graphics import CELL_SIZE, Asked, Graphics
from inspector.tui.pictures.pixels import forgotten
from inspector.tui.screen_cells import ScreenCells
from inspector.tui.terminal import hung_up

if TYPE_CHECKING:
    from textual.app import App

_READ = 4096  # bytes
_LOOKS = 0.1  # seconds to wait for input; then an incomplete answer counts as typed, and the loop checks whether to end


class GraphicsKnown(Message):
    """The terminal has answered a question about what it can draw."""

    def __init__(self, graphics: Graphics) -> None:
        super().__init__()
        self.graphics = graphics


class _Terminal:
    """The terminal as a file. Errors are ignored, because they occur only after the terminal has gone away.

    An error would end Textual's writer thread. A thread that waits for space in the writer thread's queue would then
    wait forever.
    """

    def __init__(self, file: IO[str]) -> None:
        self._file = file

    def write(self, text: str) -> None:
        with suppress(OSError):
            self._file.write(text)

    def flush(self) -> None:
        with suppress(OSError):
            self._file.flush()

    def fileno(self) -> int:
        return self._file.fileno()


def _soon(work: Callable[[], object]) -> bool:
    """Call a function in the app's loop as soon as the loop is free. Return False, without calling it, if no loop runs
    in this thread."""
    try:
        asyncio.get_running_loop().call_soon_threadsafe(work)
    except RuntimeError:
        return False
    return True


class AskingDriver(LinuxDriver):
    """A driver that asks at the start and after each suspension whether the terminal can draw pixels.

    Textual's parser would treat the answers as keys. Therefore, this driver replaces Textual's loop that reads keys,
    and removes the answers before the parser sees them.
    """

    _asked: Asked | None = None

    def __init__(self, app: App[Any], *, debug: bool = False, mouse: bool = True, size: Any = None) -> None:
        super().__init__(app, debug=debug, mouse=mouse, size=size)
        self._file = _Terminal(self._file)  # type: ignore[assignment,arg-type]
        self.cells = ScreenCells()

    @property
    def _shown(self) -> bool:
        """Whether the screen is shown, that is, whether a thread is reading keys and has not been asked to end."""
        return self._key_thread is not None and self._key_thread.is_alive() and not self.exit_event.is_set()

    def _sigtstp_application(self, *_: object) -> None:
        """Pause the program once the app's loop is free. If no screen is shown, pause the program immediately.

        The signal may have interrupted the code that queues output. Closing the screen here would then wait forever for
        a lock that the interrupted code holds.
        """
        if not (self._auto_restart and self._shown and _soon(super()._sigtstp_application)):
            os.kill(os.getpid(), signal.SIGSTOP)

    def _sigcont_application(self, *_: object) -> None:
        """Continue after a pause, once the app's loop is free."""
        _soon(self._go_on)

    def _go_on(self) -> None:
        """Show the screen again, if it was shown before the signal and the terminal still exists.

        SIGCONT also arrives when the terminal goes away, and after another process has stopped the program with
        SIGSTOP. In these cases, a thread may still be reading keys, so the screen is closed first. Otherwise, Textual
        would start a second thread.
        """
        if not (self._must_signal_resume or self._shown) or hung_up():
            return
        if self._auto_restart and not self._must_signal_resume:
            self.suspend_application_mode()
            self._must_signal_resume = True  # the screen is drawn again
        super()._sigcont_application()

    def write(self, data: str) -> None:
        """Send the terminal only the text that changes the screen.

        No thread takes text from the queue during a pause, or if the program has failed to resume after a pause. In
        these cases, the text is dropped.
        """
        if self._writer_thread is not None and self._writer_thread.is_alive() and (sent := self.cells.changed(data)):
            super().write(sent)

    def resized(self, size: Size) -> None:
        """Store the size of the terminal, and ask for the size of a cell, which may have changed as well."""
        self.cells.resized(size.width, size.height)
        if self.input_tty:
            self.write(CELL_SIZE)

    def start_application_mode(self) -> None:
        self._asked = Asked(os.environ)
        self.cells.forget()
        super().start_application_mode()  # type: ignore[no-untyped-call]
        if self.input_tty and self._writer_thread is not None:
            # The questions are sent first, so that the first screen covers any part of them that a terminal may show.
            self.write(self._asked.questions())
            self.flush()

    def stop_application_mode(self) -> None:
        """Delete this program's pictures from the terminal, then close the screen as Textual does."""
        if self._asked is not None and (sequences := forgotten(self._asked.graphics)):
            self.write(sequences)
        super().stop_application_mode()

    def run_input_thread(self) -> None:
        asked, parser = self._asked or Asked(os.environ), XTermParser()
        decode = getincrementaldecoder("utf-8")("ignore").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                known, came = asked.graphics, b""
                if selector.select(_LOOKS) and not (came := self._read()):
                    return  # the terminal has gone away; the app checks for this
                typed = asked.typed(decode(came)) if came else asked.nothing_more()
                for event in parser.feed(typed) if typed else ():
                    self.process_message(event)
                for event in parser.tick():
                    self.process_message(event)
                if asked.graphics != known:
                    self.process_message(GraphicsKnown(asked.graphics))

    def _read(self) -> bytes:
        """Read input from the terminal. Return no bytes if the terminal has gone away."""
        try:
            return os.read(self.fileno, _READ)
        except OSError:
            return b""
