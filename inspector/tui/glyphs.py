"""The characters to draw with, for a UTF-8 terminal and for plain ASCII, and text adapted to either."""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from inspector.names import safe

_LEAST_NOTE, _WHOLE_NOTE = 6, 12  # minimum cells of a note that is cut; maximum cells of a short note
_LEAST_TITLE = 12  # minimum cells of a title that gives way to a short note


@dataclass(frozen=True, slots=True)
class Glyphs:
    """A set of characters.

    Attributes:
        ascii: Whether only ASCII can be shown.
        rule: Horizontal line.
        wall: Vertical line.
        more: Sign for text that is cut off.
        bar: Characters for the done and the remaining part of a progress bar.
        beyond: Sign for more lines above, and sign for more lines below.
    """

    ascii: bool
    rule: str
    wall: str
    more: str
    bar: str
    beyond: str

    def text(self, text: str) -> str:
        """The text without anything that a terminal could act on, and in ASCII if necessary."""
        shown = safe(text)
        return shown.encode("ascii", "backslashreplace").decode() if self.ascii else shown

    def fit(self, text: str, width: int, *, right: bool = False, keep_end: bool = False) -> str:
        """Cut or fill a text to exactly `width` cells.

        Args:
            text: The text; it is made safe first.
            width: Cells.
            right: Whether a shorter text is aligned to the right.
            keep_end: Whether a longer text is cut at its start, as for file names.
        """
        shown = self.text(text)
        room = width - cell_len(shown)
        if room >= 0:
            return " " * room + shown if right else shown + " " * room
        if width <= 0:
            return ""
        if not keep_end:
            return set_cell_size(shown, width - 1) + self.more
        while cell_len(shown) > width - 1:
            shown = shown[1:]
        return set_cell_size(self.more + shown, width)

    def progress(self, done: int, of: int, width: int) -> str:
        """A progress bar.

        Args:
            done: The amount of work that is done.
            of: The total.
            width: Cells.
        """
        full = width * done // max(1, of)
        return self.bar[0] * full + self.bar[1] * (width - full)

    def line(self, title: str, width: int, note: str = "") -> str:
        """A horizontal line with a title at its left end and a note at its right end, both cut if necessary.

        A short note, such as a key, is not cut as long as the title can be cut instead. A note is left out if too
        little of it would be visible.

        Args:
            title: The title; it is made safe first.
            width: Cells.
            note: The note; it is made safe first.
        """
        shown, needed = self.text(title), cell_len(self.text(note))
        for_title = width - needed - 7  # beside the whole note, with the line and blanks
        if 0 < needed <= _WHOLE_NOTE and _LEAST_TITLE <= for_title < cell_len(shown):
            shown = self.fit(shown, for_title)
        head = f"{self.rule} {shown} " if title else self.rule
        room = width - cell_len(head) - 4  # for the note, between two pieces of the line
        shown = self.fit(note, min(room, needed)) if room >= min(needed, _LEAST_NOTE) else ""
        tail = f" {shown} {self.rule}" if shown else ""
        gap = width - cell_len(head) - cell_len(tail)
        return head + self.rule * gap + tail if gap >= 0 else self.fit(head, width)


UNICODE = Glyphs(ascii=False, rule="─", wall="│", more="…", bar="█░", beyond="↑↓")
ASCII = Glyphs(ascii=True, rule="-", wall="|", more="~", bar="#.", beyond="^v")


def beyond_words(above: bool, below: bool) -> str:
    """The directions in which there is more than is visible, in words: `more above and below`; empty if there is none.

    Args:
        above: Whether there is more above.
        below: Whether there is more below.
    """
    ways = [word for word, there in (("above", above), ("below", below)) if there]
    return f"more {' and '.join(ways)}" if ways else ""
