"""The progress of writing the corrected folder."""

from __future__ import annotations

import time

from rich.text import Text
from textual.app import ComposeResult
from textual.widgets import Static

from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.session import Session
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.workers.engine import left_words
from inspector.tui.workers.messages import Writing

_BAR = 40
_STEPS = {
    "write": "writing files",
    "read back": "reading the files back and comparing them",
    "check": "checking the written frames",
}
"""Id of a stage in `deliver` -> its name on the screen, in the order of the stages."""


class WritingScreen(SessionScreen):
    """A screen that shows the progress of writing. The app closes the screen when the work has ended."""

    BINDINGS = keys.bindings(keys.WRITING)

    def __init__(self, session: Session, glyphs: Glyphs, out: str) -> None:
        super().__init__(session, glyphs)
        self._out = out
        self._progress: Writing | None = None
        self._begun: dict[str, float] = {}  # stage -> time of its first report, from `time.monotonic`

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, f"writing {self._out}")
        yield Static(self._text(), markup=False, id="progress")
        yield KeyFooter(keys.WRITING)

    def show(self, progress: Writing) -> None:
        """Show the progress of writing. This may be called before the screen is laid out."""
        self._progress = progress
        self._begun.setdefault(progress.what, time.monotonic())
        for place in self.query("#progress").results(Static):
            place.update(self._text())

    def _text(self) -> Text:
        progress = self._progress
        if progress is None:
            return Text("starting")
        step = f"step {list(_STEPS).index(progress.what) + 1} of {len(_STEPS)}: {_STEPS[progress.what]}"
        left = left_words(time.monotonic() - self._begun[progress.what], progress.done, progress.of)
        text = Text(f"{step}, {progress.done:,} of {progress.of:,}{left}\n\n")
        text.append(self.glyphs.progress(progress.done, progress.of, _BAR))
        return text.append("\n\nThe source files are not changed. The output folder appears after the last step.")
