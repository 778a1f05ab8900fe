"""Measure how fast the terminal receives text, by the time until it answers.

A local terminal takes text as fast as it comes. On a slow connection, the program that passes the text on takes it just
as fast and buffers it. A key would then take effect only after megabytes of pictures. Therefore, after each picture,
the terminal is asked for its cursor's position. The answer shows that it has received everything sent before the
question.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections import deque
from collections.abc import Callable

from inspector.tui.terminal import takes_more

ASK = "\x1b[6n"
"""Device status report with parameter 6. The terminal answers with its cursor's position (ECMA-48, 8.3.35 and 8.3.14,
from memory)."""

LINK_SECONDS = 0.15
"""Maximum number of seconds by which a picture may arrive later than on an idle connection. Beyond this limit, pictures
become coarser, because a key would take effect too late."""

LINK_PICTURE = 0.03
"""Assumed time between pictures, in seconds. It is that of about thirty pictures per second. The maximum number of
pictures in transit is the delay of the connection divided by this time and rounded up, plus one."""

LINK_PICTURES = 8
"""Maximum number of pictures in transit, not counting the first, on a connection of any delay. Eight pictures take a
quarter of a second."""

LINK_PATIENCE = 10.0
"""Seconds to wait for an answer from a terminal that has answered before. After that, pictures no longer wait for
answers until the next answer arrives. A picture of 20 KB takes 4 s at 5 KB/s."""

LINK_LAST_WAIT = 2.0
"""Maximum number of seconds to wait for outstanding answers at the end of the program."""

_LOOKS = 0.02  # seconds between checks for outstanding answers


class Link:
    """The connection to the terminal.

    Attributes:
        slow: Whether pictures take long to arrive. It becomes False again only once they arrive in much less time, so
            that pictures don't keep switching between coarse and fine.
    """

    def __init__(self) -> None:
        self._write: Callable[[str], object] | None = None
        self._asked: deque[float] = deque()
        self._answers = False
        self._least = math.inf
        self.slow = False

    def connect(self, write: Callable[[str], object]) -> None:
        """Set the function that writes to the terminal. Without a function, everything counts as received
        immediately."""
        self._write = write

    def ask(self) -> None:
        """Ask the terminal for its cursor's position."""
        if self._write is not None:
            self._write(ASK)
            self._asked.append(time.monotonic())

    def answered(self) -> None:
        """Note an answer. It shows that the terminal has received everything written before the earliest open
        question."""
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
        """Whether another picture may be sent now.

        More than one may be in transit, so that a long delay doesn't reduce the picture rate of a fast connection.
        """
        if self._write is None:
            return True
        if self._asked and time.monotonic() - self._asked[0] > LINK_PATIENCE:
            self._asked.clear()
            self._answers = False
        at_once = 1 if self.slow else 1 + math.ceil(min(self._least / LINK_PICTURE, LINK_PICTURES))
        return takes_more() and (not self._answers or len(self._asked) < at_once)

    async def settle(self) -> None:
        """Wait for outstanding answers, for at most LINK_LAST_WAIT seconds.

        If they arrived after the end of the program, the shell would take them for keys.
        """
        end = time.monotonic() + LINK_LAST_WAIT
        while self._answers and self._asked and time.monotonic() < end:
            await asyncio.sleep(_LOOKS)
