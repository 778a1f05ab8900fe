"""Draw pictures in a thread. Only the newest waiting request is drawn, so that keys never wait for a picture."""

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
"""Maximum time to draw a picture in full detail, in seconds. If drawing takes longer, moving pictures become coarser.
The limit allows 20 pictures per second, which still look like motion."""

COARSENESS = 2
"""Side, in pixels, of the single-coloured squares of a coarse picture."""

STILL_SECONDS = 0.15
"""Time without another request, in seconds, after which a moving picture counts as still. It is longer than the time
between two repeats of a held key. Keys repeat about 25 to 30 times per second (common practice, no source)."""


class PictureRequest(Protocol):
    """A request for a picture."""

    @property
    def moving(self) -> bool:
        """Whether another request is likely to follow immediately."""

    def paint(self, coarseness: int) -> Painted:
        """Draw the picture.

        Args:
            coarseness: Side, in pixels, of the single-coloured squares of a coarse picture; 1 for full detail.

        Raises:
            MeshqcError: The picture can't be drawn.
        """


class Painted(Message):
    """A picture as lines of the screen, with the text to show beside it.

    Args:
        order: The request, including the chosen camera.
        picture: The picture as it was drawn, (h, w, 3).
        strips: The lines of the screen.
        words: The text to show beside the picture.
    """

    def __init__(self, order: PictureRequest, picture: Picture, strips: list[Strip], words: str = "") -> None:
        super().__init__()
        self.order = order
        self.picture = picture
        self.strips = strips
        self.words = words


class NotPainted(Message):
    """The reason why a picture could not be drawn."""

    def __init__(self, order: PictureRequest, reason: str) -> None:
        super().__init__()
        self.order = order
        self.reason = reason


class Painter:
    """A painter that posts Painted or NotPainted for the newest request.

    A moving picture is drawn coarsely if a picture in full detail takes too long to draw or to send. Once the picture
    is still, it is drawn again in full detail.

    Attributes:
        hurried: Whether pictures in full detail take too long to send.
        held: Whether the last picture is still waiting to be sent.
    """

    def __init__(self, post: Callable[[Message], object], work: Callable[[Callable[[], None]], None]) -> None:
        self._post = post
        self._work = work
        self._changed = Condition()
        self._next: PictureRequest | None = None
        self._busy = False
        self._waits = False
        self._cost = 0.0
        self.hurried = False
        self.held = False

    def ask(self, order: PictureRequest) -> None:
        """Request a picture, in place of an earlier request that hasn't been started."""
        with self._changed:
            self._next = order
            self._changed.notify()
            if self._busy:
                return
            self._busy = True
        self._work(self._paint_all)

    def forget(self) -> None:
        """Drop the request that hasn't been started, and stop waiting for a picture to be sent."""
        with self._changed:
            self._next, self.held = None, False

    @property
    def busy(self) -> bool:
        """Whether a picture is being drawn or is about to be drawn, so that another picture would have to wait."""
        return self._busy and not self._waits

    def _paint_all(self) -> None:
        while (order := self._take()) is not None:
            coarse = order.moving and (self.hurried or self._cost > PICTURE_SECONDS)
            self._paint(order, COARSENESS if coarse else 1)
            if coarse and not self._comes_another():
                self._paint(order, 1)

    def _take(self) -> PictureRequest | None:
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

    def _paint(self, order: PictureRequest, coarseness: int) -> None:
        start = time.perf_counter()
        try:
            with np.errstate(all="ignore"):  # extreme numbers are not drawn
                self._post(order.paint(coarseness))
        except MeshqcError as error:
            self._post(NotPainted(order, str(error)))
            return
        if coarseness == 1:
            self._cost = time.perf_counter() - start
