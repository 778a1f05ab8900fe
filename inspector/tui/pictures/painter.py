"""Pictures made in a thread: of several asked for at once only the newest is made, so keys never wait for one."""

from __future__ import annotations

import time
from collections.abc import Callable
from threading import Condition
from typing import Protocol

import numpy as np
from textual.message import Message
from textual.strip import Strip

from inspector.errors import MeshqcError
from inspector.picture.canvas import Picture

PICTURE_SECONDS = 0.05
"""Time for a full picture from which a moving one is made coarser: twenty pictures a second still read as a motion."""

COARSENESS = 2
"""Pixels across and down that a moving picture has one colour for, where a full one takes too long."""

STILL_SECONDS = 0.15
"""Time without another picture after which one that moved stands still. Keys held down repeat some 25 to 30 times a
second (common practice, no source)."""


class Order(Protocol):
    """A picture that is wanted. moving: another one is likely to follow at once."""

    @property
    def moving(self) -> bool: ...

    def paint(self, coarseness: int) -> Painted:
        """Make it; coarseness: cells that share a pixel across. Raises MeshqcError."""


class Painted(Message):
    """A picture as lines of the screen, and what there is to say about it."""

    def __init__(self, order: Order, picture: Picture, strips: list[Strip], words: str = "") -> None:
        super().__init__()
        self.order = order
        self.picture = picture
        self.strips = strips
        self.words = words


class NotPainted(Message):
    """No picture, and why."""

    def __init__(self, order: Order, reason: str) -> None:
        super().__init__()
        self.order = order
        self.reason = reason


class Painter:
    """Posts Painted or NotPainted for the newest order. A picture that moves is made coarse where a full one takes too
    long to make, or to send (`hurried`), and made again in full once it stands still and is sent (not `held`)."""

    def __init__(self, post: Callable[[Message], object], work: Callable[[Callable[[], None]], None]) -> None:
        self._post = post
        self._work = work
        self._changed = Condition()
        self._next: Order | None = None
        self._busy = False
        self._waits = False
        self._cost = 0.0
        self.hurried = False
        self.held = False

    def ask(self, order: Order) -> None:
        """Want this picture, and none of those asked for before that aren't begun."""
        with self._changed:
            self._next = order
            self._changed.notify()
            if self._busy:
                return
            self._busy = True
        self._work(self._paint_all)

    def forget(self) -> None:
        """Nothing is wanted any more."""
        with self._changed:
            self._next, self.held = None, False

    @property
    def busy(self) -> bool:
        """Whether a picture is made, or about to be: another one would have to wait."""
        return self._busy and not self._waits

    def _paint_all(self) -> None:
        while (order := self._take()) is not None:
            coarse = order.moving and (self.hurried or self._cost > PICTURE_SECONDS)
            self._paint(order, COARSENESS if coarse else 1)
            if coarse and not self._comes_another():
                self._paint(order, 1)

    def _take(self) -> Order | None:
        with self._changed:
            order, self._next = self._next, None
            self._busy = order is not None
            return order

    def _comes_another(self) -> bool:
        with self._changed:
            self._waits = True
            another = self._next is not None or self._changed.wait(STILL_SECONDS)
            while self.held and not another:
                another = self._changed.wait(STILL_SECONDS)
            self._waits = False
            return another

    def _paint(self, order: Order, coarseness: int) -> None:
        start = time.perf_counter()
        try:
            with np.errstate(all="ignore"):  # numbers beyond all bounds are drawn as nothing
                self._post(order.paint(coarseness))
        except MeshqcError as error:
            self._post(NotPainted(order, str(error)))
            return
        if coarseness == 1:
            self._cost = time.perf_counter() - start
