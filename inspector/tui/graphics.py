"""Finds out whether the terminal draws real pixels: asks the terminal, and removes its answers from the typed text.

Only the protocols' own questions are asked; nothing is concluded from a terminal's name. Through tmux, only protocols
that it supports are asked for: with `allow-passthrough` the kitty graphics protocol, whose pictures are text to tmux,
and without it Sixel, if tmux draws that itself. Inline images would be drawn wherever the outer terminal's cursor is.
"""

from __future__ import annotations

import enum
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

ANSWER_SECONDS = 2.0
"""Seconds to wait for an answer. A connection that takes longer is too slow for pixels; later answers are still removed
from what is typed."""

CELL_SIZE = "\x1b[16t"
"""Asks for the size of a cell: the answer is `CSI 6 ; height ; width t` (xterm control sequences, XTWINOPS, from
memory)."""

_ATTRIBUTES = "\x1b[c"
"""Asks for the primary device attributes. In the answer, such as `CSI ? 62 ; 4 c`, each number after the first is a
feature; 4 is Sixel (VT330/VT340 Programmer Reference Manual; xterm control sequences)."""
_SIXEL = 4

_CAPABILITIES = "\x1b]1337;Capabilities\x1b\\"
"""iTerm2's feature reporting: the answer `OSC 1337 ; Capabilities = T3CwLrMSc7U...` has a code for each feature: a
capital letter, then small letters and digits. F is the code of focus reporting and also of files, that is, inline
images (from memory).
"""
_FILES = 2

_QUERY, _TRIAL = 31, 32  # ids of pictures that are used only in questions
_KITTY = (
    f"\x1b_Gi={_QUERY},s=1,v=1,a=q,t=d,f=24;AAAA\x1b\\",
    f"\x1b_Gi={_TRIAL},s=1,v=1,a=t,t=d,f=24,q=1;AAAA\x1b\\",
    f"\x1b_Gi={_TRIAL},p=1,a=p,U=1,P={_TRIAL},Q=1\x1b\\",
    f"\x1b_Ga=d,d=I,i={_TRIAL},q=2\x1b\\",
)
"""Questions of the kitty graphics protocol: its own query, and whether pictures can be placed by characters (U=1).
There is no query for the latter, but such a placement can't be relative to another one (P), and only a terminal that
knows both refuses the combination as invalid (the protocol's document, from memory).
"""

_ANSWERS = re.compile(
    r"\x1b_G(?P<kitty>[^\x1b]*)\x1b\\"
    r"|\x1b\]1337;(?P<capabilities>[^\x07\x1b]*)(?:\x07|\x1b\\)"
    r"|\x1b\[\?(?P<attributes>[\d;]*)c"
    r"|\x1b\[6;(?P<high>\d+);(?P<wide>\d+)t"
)
_BEGUN = re.compile(r"\x1b(?:_[^\x1b]*\x1b?|\][^\x07\x1b]*\x1b?|\[(?:\?[\d;]*|6?[;\d]*)?)?\Z")
_FEATURE = re.compile(r"[A-Z][a-z]*")
_LARGEST_CELL = 400  # pixels; larger cells would make pictures that fill the memory


class Protocol(enum.Enum):
    """The protocols for sending pictures, the most suitable first."""

    KITTY = "kitty graphics protocol"
    INLINE = "inline images"
    SIXEL = "Sixel"


@dataclass(frozen=True, slots=True)
class Graphics:
    """The answers of the terminal so far.

    Attributes:
        kitty: Whether the terminal supports the kitty graphics protocol.
        placeholders: Whether pictures can be placed by characters in that protocol.
        inline: Whether the terminal draws iTerm2's inline images.
        sixel: Whether the terminal draws Sixel.
        cell: Width and height of a cell in pixels; None if they are not known.
        tmux: Whether the program runs in tmux, which passes sequences on or drops them.
    """

    kitty: bool = False
    placeholders: bool = False
    inline: bool = False
    sixel: bool = False
    cell: tuple[int, int] | None = None
    tmux: bool = False

    @property
    def protocol(self) -> Protocol | None:
        """The protocol to use. Sixel needs the size of a cell; the others scale a picture to its cells."""
        if self.kitty and self.placeholders:
            return Protocol.KITTY
        if self.inline:
            return Protocol.INLINE
        return Protocol.SIXEL if self.sixel and self.cell is not None else None


def passed_on(sequence: str) -> str:
    """A sequence that tmux passes on to the terminal around it (tmux(1), allow-passthrough)."""
    doubled = sequence.replace("\x1b", "\x1b\x1b")
    return f"\x1bPtmux;{doubled}\x1b\\"


class Asked:
    """Asks a terminal questions, and collects the answers.

    Args:
        environment: Environment variables.
        clock: Time in seconds.

    Attributes:
        graphics: The answers of the terminal so far.
    """

    def __init__(self, environment: Mapping[str, str], clock: Callable[[], float] = time.monotonic) -> None:
        self._tmux = "TMUX" in environment
        self._through = self._tmux or "STY" not in environment  # GNU screen passes nothing on
        self._clock = clock
        self._asked = -ANSWER_SECONDS
        self._begun = ""
        self.graphics = Graphics(tmux=self._tmux)

    def questions(self) -> str:
        """Return all questions and forget earlier answers, because after a suspension the program may run in another
        terminal."""
        self._asked = self._clock()
        self.graphics = Graphics(tmux=self._tmux)
        kitty = "".join(passed_on(one) if self._tmux else one for one in _KITTY) if self._through else ""
        return kitty + ("" if self._tmux or not self._through else _CAPABILITIES) + CELL_SIZE + _ATTRIBUTES

    def typed(self, text: str) -> str:
        """Remove answers from text that came from the terminal, and store them in `graphics`.

        The beginning of an answer is kept back until more text arrives.
        """
        text, self._begun = self._begun + text, ""
        rest, at = [], 0
        for answer in _ANSWERS.finditer(text):
            rest.append(text[at : answer.start()])
            at = answer.end()
            self._take(answer)
        text = text[at:]
        if self._waits and (begun := _BEGUN.search(text)):
            text, self._begun = text[: begun.start()], begun[0]
        return "".join(rest) + text

    def nothing_more(self) -> str:
        """Return the text that was kept back: it was typed, because no further part of an answer came after it."""
        text, self._begun = self._begun, ""
        return text

    @property
    def _waits(self) -> bool:
        return self._clock() - self._asked < ANSWER_SECONDS

    def _take(self, answer: re.Match[str]) -> None:
        known = self.graphics
        if answer["wide"] is not None:
            cell = int(answer["wide"]), int(answer["high"])
            if min(cell) > 0 and max(cell) <= _LARGEST_CELL:
                self.graphics = replace(known, cell=cell)
        elif not self._waits:
            return
        elif (words := answer["kitty"]) is not None:
            keys, _, said = words.partition(";")
            if f"i={_QUERY}" in keys.split(",") and said == "OK":
                self.graphics = replace(known, kitty=True)
            elif f"i={_TRIAL}" in keys.split(",") and said.startswith("EINVAL"):
                self.graphics = replace(known, placeholders=True)
        elif (words := answer["capabilities"]) is not None:
            name, _, features = words.partition("=")
            if name == "Capabilities" and _FEATURE.findall(features).count("F") >= _FILES:
                self.graphics = replace(known, inline=True)
        else:
            numbers = answer["attributes"].split(";")
            # The first number is the terminal's class.
            self.graphics = replace(known, sixel=str(_SIXEL) in numbers[1:])
