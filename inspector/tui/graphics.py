"""Ask the terminal whether it draws real pixels, and remove its answers from the typed text.

Only the questions that the protocols define are asked. The name of the terminal is not considered.

In tmux, only two protocols are possible. One is Sixel, because tmux itself draws Sixel pictures. The other is the kitty
graphics protocol, if tmux's option `allow-passthrough` is on and the terminal draws pictures in place of placeholder
characters. Inline images are not possible, because they would be drawn at the cursor of the outer terminal. This cursor
may be anywhere.
"""

from __future__ import annotations

import enum
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

ANSWER_SECONDS = 2.0
"""Maximum number of seconds to wait for an answer. A slower connection is too slow for pixels. Later answers are still
removed from the typed text."""

CELL_SIZE = "\x1b[16t"
"""Request for the size of a cell in pixels. The answer is `CSI 6 ; height ; width t` (xterm control sequences,
XTWINOPS; quoted from memory)."""

_ATTRIBUTES = "\x1b[c"
"""Request for the primary device attributes. In the answer, such as `CSI ? 62 ; 4 c`, each number after the first is a
feature; 4 is Sixel (VT330/VT340 Programmer Reference Manual; xterm control sequences)."""
_SIXEL = 4

_CAPABILITIES = "\x1b]1337;Capabilities\x1b\\"
"""Request for the features of the terminal, as defined by iTerm2 (quoted from memory). The answer, such as `OSC 1337 ;
Capabilities = T3CwLrMSc7U...`, has a code for each feature: a capital letter, then lower-case letters and digits. Two
features have the code F: focus reporting, and files. A terminal with the feature "files" draws inline images."""
_FILES = 2  # number of F codes in the answer of a terminal that draws inline images

_QUERY, _TRIAL = 31, 32  # ids of pictures that are used only in questions
_KITTY = (
    f"\x1b_Gi={_QUERY},s=1,v=1,a=q,t=d,f=24;AAAA\x1b\\",
    f"\x1b_Gi={_TRIAL},s=1,v=1,a=t,t=d,f=24,q=1;AAAA\x1b\\",
    f"\x1b_Gi={_TRIAL},p=1,a=p,U=1,P={_TRIAL},Q=1\x1b\\",
    f"\x1b_Ga=d,d=I,i={_TRIAL},q=2\x1b\\",
)
"""Requests that detect the kitty graphics protocol: its own query, and a trial of placeholder characters (U=1), in
place of which the terminal draws a picture. The protocol has no query for placeholder characters. Therefore, the trial
combines placeholder characters with a placement relative to another picture (P). The protocol forbids this combination,
and only a terminal that knows both features refuses it as invalid (specification of the protocol, quoted from
memory)."""

_ANSWERS = re.compile(
    r"\x1b_G(?P<kitty>[^\x1b]*)\x1b\\"
    r"|\x1b\]1337;(?P<capabilities>[^\x07\x1b]*)(?:\x07|\x1b\\)"
    r"|\x1b\[\?(?P<attributes>[\d;]*)c"
    r"|\x1b\[6;(?P<high>\d+);(?P<wide>\d+)t"
)
_BEGUN = re.compile(r"\x1b(?:_[^\x1b]*\x1b?|\][^\x07\x1b]*\x1b?|\[(?:\?[\d;]*|6?[;\d]*)?)?\Z")
_FEATURE = re.compile(r"[A-Z][a-z]*")
_LARGEST_CELL = 400  # pixels; with larger cells, pictures would fill the memory


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
        placeholders: Whether the terminal draws pictures in place of placeholder characters (kitty graphics protocol).
        inline: Whether the terminal draws iTerm2's inline images.
        sixel: Whether the terminal draws Sixel.
        cell: Width and height of a cell in pixels; None if they are not known.
        tmux: Whether the program runs in tmux.
    """

    kitty: bool = False
    placeholders: bool = False
    inline: bool = False
    sixel: bool = False
    cell: tuple[int, int] | None = None
    tmux: bool = False

    @property
    def protocol(self) -> Protocol | None:
        """The protocol to use; None if the terminal supports none.

        Sixel needs the size of a cell in pixels. The other protocols scale a picture to its cells.
        """
        if self.kitty and self.placeholders:
            return Protocol.KITTY
        if self.inline:
            return Protocol.INLINE
        return Protocol.SIXEL if self.sixel and self.cell is not None else None


def passed_on(sequence: str) -> str:
    """Wrap an escape sequence so that tmux passes it on to the outer terminal (tmux(1), allow-passthrough)."""
    doubled = sequence.replace("\x1b", "\x1b\x1b")
    return f"\x1bPtmux;{doubled}\x1b\\"


class Asked:
    """Questions to a terminal about what it can draw, and the answers.

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
        """Return the questions to send, and forget earlier answers: after a suspension, the program may run in another
        terminal."""
        self._asked = self._clock()
        self.graphics = Graphics(tmux=self._tmux)
        kitty = "".join(passed_on(one) if self._tmux else one for one in _KITTY) if self._through else ""
        return kitty + ("" if self._tmux or not self._through else _CAPABILITIES) + CELL_SIZE + _ATTRIBUTES

    def typed(self, text: str) -> str:
        """Return text from the terminal without the answers in it, which are stored in `graphics`.

        While answers are expected, an incomplete answer at the end of the text is kept back until more text arrives.
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
        """Return the text that `typed` kept back.

        No more text has arrived to complete an answer, so the user must have typed this text.
        """
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
