"""How fast the terminal takes what is sent, told by its answers.

A local terminal takes text as fast as it comes. Over a slow link it is taken as fast by whoever passes it on, and waits
there: keys would be answered behind megabytes of pictures. So behind each picture the terminal is asked where its
cursor is; its answer says that it has all that was sent before.
"""

from __future__ import annotations

import asyncio
import math
import time
from collections import deque
from collections.abc import Callable

from inspector.tui.terminal import takes_more

ASK = "\x1b[6n"
"""Device status report with parameter 6: the terminal answers with its cursor's position (ECMA-48, 8.3.35 and 8.3.14,
from memory)."""

LINK_SECONDS = 0.15
"""Seconds that a picture takes to arrive, beyond what the link takes at least, from which pictures are made coarser: a
key pressed then waits that long for its answer."""

LINK_PICTURE = 0.03
"""Seconds between pictures, thirty a second: over a long but quick way so many are under way at a time."""

LINK_PICTURES = 8
"""Pictures under way at a time at most, a quarter of a second of them."""

LINK_PATIENCE = 10.0
"""Seconds without an answer from a terminal that has answered before, after which it is no longer asked to: a picture
of 20 KB takes four over a link of 5 KB a second."""

LINK_LAST_WAIT = 2.0
"""Seconds that the end of the program waits for answers under way at most."""

_LOOKS = 0.02  # seconds


class Link:
    """slow: pictures take long to arrive; kept until they clearly don't, so that they don't change their grain."""

    def __init__(self) -> None:
        self._write: Callable[[str], object] | None = None
        self._asked: deque[float] = deque()
        self._answers = False
        self._least = math.inf
        self.slow = False

    def connect(self, write: Callable[[str], object]) -> None:
        """There is a terminal, and this writes to it. Without one, everything is taken at once."""
        self._write = write

    def ask(self) -> None:
        if self._write is not None:
            self._write(ASK)
            self._asked.append(time.monotonic())

    def answered(self) -> None:
        """The terminal has everything that was written before the question that was asked first."""
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
        """Whether another picture may be sent: so many at a time that a long way doesn't slow down a quick link."""
        if self._write is None:
            return True
        if self._asked and time.monotonic() - self._asked[0] > LINK_PATIENCE:
            self._asked.clear()
            self._answers = False
        at_once = 1 if self.slow else 1 + math.ceil(min(self._least / LINK_PICTURE, LINK_PICTURES))
        return takes_more() and (not self._answers or len(self._asked) < at_once)

    async def settle(self) -> None:
        """Wait for answers that are still to come: once we are gone, the shell would take them for keys."""
        end = time.monotonic() + LINK_LAST_WAIT
        while self._answers and self._asked and time.monotonic() < end:
            await asyncio.sleep(_LOOKS)
