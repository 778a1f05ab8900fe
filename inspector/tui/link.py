"""Measure how fast the terminal receives text, from the time that it takes to answer a question.

On a slow connection, the program that forwards the text to the terminal keeps it in a buffer, so a key would take
effect only after megabytes of pictures. Therefore, the terminal is asked for its cursor position after each picture.
The answer shows that the terminal has received everything that was sent before the question.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections import deque
from collections.abc import Callable

from inspector.tui.terminal import takes_more

ASK = "\x1b[6n"
"""Request for a device status report with parameter 6. The terminal answers with its cursor position (ECMA-48, 8.3.35
and 8.3.14; quoted from memory)."""

LINK_SECONDS = 0.15
"""Maximum extra delay of a picture, in seconds, compared with an idle connection. If the delay is longer, keys take
effect too late, so pictures become coarser."""

LINK_PICTURE = 0.03
"""Assumed time between two pictures, in seconds (about 30 pictures per second). It determines how many pictures may be
in transit: the smallest delay of the connection divided by this time, rounded up, plus 1."""

LINK_PICTURES = 8
"""Maximum number of pictures in transit besides the first, however long the delay of the connection is. At 30 pictures
per second, eight pictures take a quarter of a second."""

LINK_PATIENCE = 10.0
"""Maximum number of seconds to wait for an answer from a terminal that has answered before. After this time, pictures
are sent without waiting, until the terminal answers again. Even at 5 KB/s, a picture of 20 KB takes only 4 s."""

LINK_LAST_WAIT = 2.0
"""Maximum number of seconds to wait for outstanding answers at the end of the program."""

_LOOKS = 0.02  # seconds between checks for outstanding answers


class Link:
    """The connection to the terminal.

    Attributes:
        slow: Whether pictures arrive too late. The value becomes True if the extra delay of a picture is longer than
            LINK_SECONDS, and False again if the extra delay is shorter than a quarter of LINK_SECONDS. If the two
            limits were equal, pictures would keep switching between coarse and fine.
    """

    def __init__(self) -> None:
        self._write: Callable[[str], object] | None = None
        self._asked: deque[float] = deque()
        self._answers = False
        self._least = math.inf
        self.slow = False

    def connect(self, write: Callable[[str], object]) -> None:
        """Set the function that writes to the terminal. Until it is set, everything counts as received immediately."""
        self._write = write

    def ask(self) -> None:
        if self._write is not None:
            self._write(ASK)
            self._asked.append(time.monotonic())

    def answered(self) -> None:
        """Measure the delay of the answer to the earliest open question, and update `slow`."""
        self._answers = True
        if not self._asked:
            return
        took = time.monotonic() - self._asked.popleft()
        self._least = min(self._least, took)
        late = took - self._least
        if late > LINK_SECONDS or late < LINK_SECONDS / 4:
            self.slow = late > LINK_SECONDS

    @property
    def free(self) -> bool:
        """Whether another picture may be sent now."""
        if self._write is None:
            return True
        if self._asked and time.monotonic() - self._asked[0] > LINK_PATIENCE:
            self._asked.clear()
            self._answers = False
        at_once = 1 if self.slow else 1 + math.ceil(min(self._least / LINK_PICTURE, LINK_PICTURES))
        return takes_more() and (not self._answers or len(self._asked) < at_once)

    async def settle(self) -> None:
        """Wait for outstanding answers, for at most LINK_LAST_WAIT seconds.

        If answers arrived after the end of the program, the shell would read them as keys.
        """
        end = time.monotonic() + LINK_LAST_WAIT
        while self._answers and self._asked and time.monotonic() < end:
            await asyncio.sleep(_LOOKS)
