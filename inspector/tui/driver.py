"""The library's driver, which also asks the terminal whether it draws pixels and removes its answers from the keys."""

from __future__ import annotations

import os
import selectors
from codecs import getincrementaldecoder

from textual._xterm_parser import XTermParser
from textual.drivers.linux_driver import LinuxDriver
from textual.message import Message

from inspector.tui.graphics import CELL_SIZE, Asked, Graphics
from inspector.tui.pictures.pixels import forgotten

_READ = 4096  # bytes
_LOOKS = 0.1  # seconds between checks for the end, and until an answer is taken as complete


class GraphicsKnown(Message):
    """The terminal has answered."""

    def __init__(self, graphics: Graphics) -> None:
        super().__init__()
        self.graphics = graphics


class AskingDriver(LinuxDriver):
    """Asks at the start and after each suspension.

    The library's parser takes answers that it doesn't know for keys. So that they never reach it, its loop that reads
    keys is replaced by one with the same parts.
    """

    _asked: Asked | None = None

    def start_application_mode(self) -> None:
        self._asked = Asked(os.environ)
        super().start_application_mode()  # type: ignore[no-untyped-call]
        if self.input_tty and self._writer_thread is not None:
            # Before the first screen, which covers whatever a terminal may show of a question.
            self.write(self._asked.questions())
            self.flush()

    def ask_cell_size(self) -> None:
        """Ask for the size of a cell again, which a resize may have changed."""
        if self.input_tty:
            self.write(CELL_SIZE)

    def stop_application_mode(self) -> None:
        """Make the terminal drop our pictures."""
        if self._asked is not None and (sequences := forgotten(self._asked.graphics)):
            self.write(sequences)
        super().stop_application_mode()

    def run_input_thread(self) -> None:
        asked, parser = self._asked or Asked(os.environ), XTermParser()
        decode = getincrementaldecoder("utf-8")("ignore").decode
        with selectors.SelectSelector() as selector:
            selector.register(self.fileno, selectors.EVENT_READ)
            while not self.exit_event.is_set():
                known = asked.graphics
                came = os.read(self.fileno, _READ) if selector.select(_LOOKS) else b""
                typed = asked.typed(decode(came)) if came else asked.nothing_more()
                for event in parser.feed(typed) if typed else ():
                    self.process_message(event)
                for event in parser.tick():
                    self.process_message(event)
                if asked.graphics != known:
                    self.process_message(GraphicsKnown(asked.graphics))
