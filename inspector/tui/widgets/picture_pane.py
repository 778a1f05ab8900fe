"""The area of the screen that shows a picture."""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.pixels import PictureLine
from inspector.tui.styles import strip_of


class PicturePane(Widget):
    """A pane that shows the lines of a picture, and redraws only the lines that changed."""

    class Resized(Message):
        """The size of the pane has changed. Pictures of the old size don't fit any more."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__()
        self._glyphs = glyphs
        self._strips: list[Strip] = []

    def on_resize(self) -> None:
        self.post_message(self.Resized())

    def show(self, strips: Sequence[Strip]) -> None:
        before, self._strips = self._strips, list(strips)
        if len(before) != len(self._strips):
            self.refresh()
            return
        rows = [row for row, (old, new) in enumerate(zip(before, self._strips, strict=True)) if old != new]
        if rows:
            self.refresh(*(Region(0, row, self.size.width, 1) for row in rows))

    def say(self, words: str) -> None:
        width, height = self.size
        line = strip_of([Segment(self._glyphs.fit(f"  {words}", width))], width)
        self.show([strip_of([], width)] * (height // 2) + [line] + [strip_of([], width)] * (height - height // 2 - 1))

    def render_lines(self, crop: Region) -> list[Strip]:
        """Render the lines as Textual does, but keep lines that carry a picture. Textual would turn them into plain
        lines."""
        lines = super().render_lines(crop)
        if crop.column_span != (0, self.size.width):
            return lines
        own = [self.render_line(y) for y in crop.line_range]
        return [mine if isinstance(mine, PictureLine) else line for mine, line in zip(own, lines, strict=True)]

    def render_line(self, y: int) -> Strip:
        width = self.size.width
        return self._strips[y].adjust_cell_length(width) if y < len(self._strips) else strip_of([], width)
