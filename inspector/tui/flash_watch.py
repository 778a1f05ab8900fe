"""A watch for flashes over pictures as they are shown, and a look ahead for them before anything is played."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace

from textual.message import Message

from inspector import limits
from inspector.errors import MeshqcError
from inspector.picture.canvas import Picture
from inspector.picture.flashing import Floats, first_flash, luminances
from inspector.tui.scene import Scene

_WIDTH, _HEIGHT = 64, 36


class FlashWatch:
    """Holds the pictures of the last second against the general flash threshold (picture.flashing: WCAG 2.2, 2.3.1)."""

    def __init__(self) -> None:
        self._shown: deque[tuple[float, Floats]] = deque()

    @property
    def count(self) -> int:
        """Pictures of the last second."""
        return len(self._shown)

    def flashes(self, seconds: float, picture: Picture) -> bool:
        """Whether the second that ends with this picture flashes more than three times; times rise."""
        self._shown.append((seconds, luminances(picture)))
        while self._shown[0][0] <= seconds - 1.0:
            self._shown.popleft()
        return first_flash([cells for _, cells in self._shown], len(self._shown)) is not None


class FlashesLooked(Message):
    """Whether the frames that were looked at flash."""

    def __init__(self, flashes: bool) -> None:
        super().__init__()
        self.flashes = flashes


def look_for_flashes(scene: Scene, rate: float, post: Callable[[Message], object], wanted: Callable[[], bool]) -> None:
    """Draw the frames small, from the scene's on and round to it again, as long as limits.FLASH_LOOK allows; what is
    behind is watched while it plays. Posts FlashesLooked unless it isn't wanted any more."""
    watch, end = FlashWatch(), time.monotonic() + limits.FLASH_LOOK
    frames = len(scene.source.view.facts)
    flashes = False
    for step in range(frames):
        if not wanted():
            return
        if flashes or time.monotonic() > end:
            break
        try:
            picture, _ = replace(scene, at=(scene.at + step) % frames).picture(_WIDTH, _HEIGHT)
        except MeshqcError:
            continue  # it is passed over when it is its turn
        flashes = watch.flashes(step / rate, picture)
    post(FlashesLooked(flashes))
