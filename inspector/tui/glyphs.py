"""The characters that are drawn, for a UTF-8 terminal and for plain ASCII, and text made fit for either."""

from __future__ import annotations

from dataclasses import dataclass

from rich.cells import cell_len, set_cell_size

from inspector.names import safe

_LEAST_NOTE = 6  # cells; of a longer note less than this says nothing


@dataclass(frozen=True, slots=True)
class Glyphs:
    """bar: done and left of a progress. beyond: more lines above, and below."""

    ascii: bool
    rule: str
    wall: str
    more: str
    bar: str
    beyond: str

    def text(self, text: str) -> str:
        """The text without anything that a terminal could act on, and in ASCII where it must be."""
        shown = safe(text)
        return shown.encode("ascii", "backslashreplace").decode() if self.ascii else shown

    def fit(self, text: str, width: int, *, right: bool = False, keep_end: bool = False) -> str:
        """Exactly `width` cells: cut with a sign for "more", or filled. keep_end cuts at the front (file names)."""
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
        """A bar of so many cells."""
        full = width * done // max(1, of)
        return self.bar[0] * full + self.bar[1] * (width - full)

    def line(self, title: str, width: int, note: str = "") -> str:
        """A rule across `width` cells with a title in its left end and a note in its right one, cut where it must."""
        head = f"{self.rule} {self.text(title)} " if title else self.rule
        room = width - cell_len(head) - 4  # for the note, behind a piece of the rule and before another
        needed = cell_len(self.text(note))
        shown = self.fit(note, min(room, needed)) if room >= min(needed, _LEAST_NOTE) else ""
        tail = f" {shown} {self.rule}" if shown else ""
        gap = width - cell_len(head) - cell_len(tail)
        return head + self.rule * gap + tail if gap >= 0 else self.fit(head, width)


UNICODE = Glyphs(ascii=False, rule="─", wall="│", more="…", bar="█░", beyond="↑↓")
ASCII = Glyphs(ascii=True, rule="-", wall="|", more="~", bar="#.", beyond="^v")


def beyond_words(above: bool, below: bool) -> str:
    """Where there is more than is seen, in words."""
    ways = [word for word, there in (("above", above), ("below", below)) if there]
    return f"more {' and '.join(ways)}" if ways else ""
