"""A caption version in words, and the strip that shows in which frames the version is readable."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from rich.segment import Segment
from rich.style import Style
from textual.strip import Strip
from textual.widget import Widget

from inspector.checks.base.finding import Severity
from inspector.lettering.caption_reading import CaptionReading
from inspector.lettering.caption_versions import CaptionCase
from inspector.report.captions_text import frame_words, key_words, letters, region_words, span, verdict_words
from inspector.report.fit_text import READ
from inspector.report.letter_plot import columns_of, letter_strip
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.styles import CURSOR, FAINT, PLAIN, STYLES, strip_of
from inspector.tui.widgets.card import Card


def first_card(reason: str) -> Card:
    """Make the card to show while there are no captions. It explains the keys, and gives the reason if the captions
    file can't be read."""
    card = Card()
    if reason:
        card.add("", reason)
    card.add(
        "i:", "type a caption. It is drawn in the lettering box of the texture and checked in every frame.", hang=True
    )
    card.add("w:", "write all captions to a file. Until then, they are not saved.", hang=True)
    card.add("", "")
    card.add("", "`meshqc captions` can then draw the captions without this screen.")
    return card


def caption_card(case: CaptionCase, progress: str, frame: int) -> Card:
    """Make a card about a version: its text, the verdict or the progress, the result for the current frame, and the
    properties of the version."""
    card = Card()
    card.add("text    ", " | ".join(case.version.texts), hang=True)
    if case.reading is None and case.refusal is None:
        card.add("progress", progress, hang=True)
    else:
        card.add("verdict ", verdict_words(case), hang=True)
    if case.reading is not None:
        card.add(
            f"frame {frame_text(case.reading.seen.frames[frame])}".ljust(8), frame_words(case.reading, frame), hang=True
        )
    for label, words in _figures(case):
        card.add(label.ljust(8), words, hang=True)
    return card


def _figures(case: CaptionCase) -> Iterator[tuple[str, str]]:
    """Yield a label and a text for each property of a version, such as its box, font and contrast."""
    if case.fit is not None and case.box is not None and case.base is not None:
        left, top, right, bottom = case.box
        over = "the texture" if case.base.name is None else str(case.base.name)
        yield "box", f"{left}, {top} to {right}, {bottom} px of {over}, on {region_words(case.fit)}"
    if case.lettered is not None and case.size is not None:
        yield "texture", f"{case.size[0]:,} x {case.size[1]:,} px, capitals {case.lettered.capital:.0f} px high"
        yield "font", case.lettered.font.name
    if case.lettered is not None and case.reading is not None:
        shot, reading = case.lettered.shot, case.reading
        yield "picture", f"{shot.width:,} x {shot.height:,} px, capitals {span(reading.seen.height, '.3g')} px high"
        if np.isfinite(reading.contrast).any():
            needed = reading.needed[int(np.nanargmin(reading.contrast))]
            yield "contrast", f"{span(reading.contrast, '.2f')}:1, needs {needed:g}:1"
        yield "strip", key_words(reading)
    if case.base is not None and case.base.lost:
        yield "lost", "; ".join(case.base.lost)


class LegibilityStrip(Widget):
    """One row with a letter for each frame. On a narrow screen, neighbouring frames share a letter.

    If the version should be readable in a frame but isn't, the frame is shown as an error. If the version need not be
    readable in a frame, the frame is faint. The current frame is in reverse video.
    """

    def __init__(self) -> None:
        super().__init__()
        self._reading: CaptionReading | None = None
        self._frame = 0
        self._laid: tuple[str, list[Style], list[int]] | None = None

    def show(self, reading: CaptionReading | None, frame: int) -> None:
        """Show in which frames a version is readable."""
        if reading is not self._reading:
            self._reading, self._laid = reading, None
        self._frame = frame
        self.refresh()

    def on_resize(self) -> None:
        self._laid = None

    def render_line(self, y: int) -> Strip:  # noqa: ARG002 - there is only one
        width, reading = self.size.width, self._reading
        if reading is None:
            return strip_of([], width)
        first, last = (frame_text(reading.seen.frames[end]) for end in (0, -1))
        if self._laid is None:
            self._laid = _laid_out(reading, max(1, width - 4 - len(first) - len(last)))
        cells, styles, cell_of = self._laid
        shown = [Segment(cell, style) for cell, style in zip(cells, styles, strict=True)]
        at = cell_of[self._frame]
        shown[at] = Segment(shown[at].text, styles[at] + CURSOR)
        return strip_of([Segment(f" {first} ", FAINT), *shown, Segment(f" {last}", FAINT)], width)


def _laid_out(reading: CaptionReading, room: int) -> tuple[str, list[Style], list[int]]:
    """Lay out a strip that is `room` cells wide.

    Returns:
        The letters of the cells, the styles of the cells, and the index of the cell of each frame.
    """
    marks = "".join(letters(reading))
    columns = columns_of(len(marks), min(len(marks), room))
    number = {column: cell for cell, column in enumerate(sorted(set(columns)))}
    cell_of = [number[column] for column in columns]
    styles = [FAINT] * len(number)
    for cell, mark, wanted in zip(cell_of, marks, reading.wanted.tolist(), strict=True):
        if wanted and styles[cell] is not STYLES[Severity.ERROR]:
            styles[cell] = PLAIN if mark == READ else STYLES[Severity.ERROR]
    return letter_strip(marks, room, ("", ""))[0], styles, cell_of
