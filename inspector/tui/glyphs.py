"""A set of characters for UTF-8 terminals and a set for ASCII terminals. Each set can adapt text to its characters."""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from inspector.names import safe

_LEAST_NOTE, _WHOLE_NOTE = 6, 12  # minimum cells of a note that is cut; maximum cells of a short note
_LEAST_TITLE = 12  # minimum cells of a title that is cut in favour of a short note


@dataclass(frozen=True, slots=True)
class Glyphs:
    """A set of characters.

    Attributes:
        ascii: Whether only ASCII can be shown.
        rule: Character of a horizontal line.
        wall: Character of a vertical line.
        more: Sign for text that is cut off.
        bar: Characters for the completed and the remaining part of a progress bar.
        beyond: Signs for more lines above and for more lines below.
    """

    ascii: bool
    rule: str
    wall: str
    more: str
    bar: str
    beyond: str

    def text(self, text: str) -> str:
        """Escape unsafe characters. If the terminal can show only ASCII, escape all non-ASCII characters as well."""
        shown = safe(text)
        return shown.encode("ascii", "backslashreplace").decode() if self.ascii else shown

    def fit(self, text: str, width: int, *, right: bool = False, keep_end: bool = False) -> str:
        """Cut a text, or pad it with spaces, to exactly `width` cells.

        Args:
            text: The text. It is escaped first, as by the method `text`.
            width: Width in cells.
            right: Whether a shorter text is aligned to the right.
            keep_end: Whether a longer text is cut at its start instead of its end, as for file names.
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
        """Return a progress bar."""
        full = width * done // max(1, of)
        return self.bar[0] * full + self.bar[1] * (width - full)

    def line(self, title: str, width: int, note: str = "") -> str:
        """Return a horizontal line with a title at its left end and a note at its right end, both escaped, and cut if
        necessary.

        A short note, such as a key, is not cut if the title can be cut instead. If too little of the note would be
        visible, the note is left out.
        """
        shown, needed = self.text(title), cell_len(self.text(note))
        for_title = width - needed - 7  # cells that the whole note, the line and the blanks leave
        if 0 < needed <= _WHOLE_NOTE and _LEAST_TITLE <= for_title < cell_len(shown):
            shown = self.fit(shown, for_title)
        head = f"{self.rule} {shown} " if title else self.rule
        room = width - cell_len(head) - 4  # cells for the note, with a piece of the line on each side
        shown = self.fit(note, min(room, needed)) if room >= min(needed, _LEAST_NOTE) else ""
        tail = f" {shown} {self.rule}" if shown else ""
        gap = width - cell_len(head) - cell_len(tail)
        return head + self.rule * gap + tail if gap >= 0 else self.fit(head, width)


UNICODE = Glyphs(ascii=False, rule="─", wall="│", more="…", bar="█░", beyond="↑↓")
ASCII = Glyphs(ascii=True, rule="-", wall="|", more="~", bar="#.", beyond="^v")


def beyond_words(above: bool, below: bool) -> str:
    """Return the directions in which there is more to see, such as `more above and below`; empty if there is nothing
    more to see."""
    ways = [word for word, there in (("above", above), ("below", below)) if there]
    return f"more {' and '.join(ways)}" if ways else ""
