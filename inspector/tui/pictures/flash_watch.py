"""A watch for flashes over pictures as they are shown, and a look ahead for them before anything is played."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from dataclasses import replace

import numpy as np
from textual.message import Message

from inspector.errors import MeshqcError
from inspector.picture.canvas import Picture
from inspector.picture.flashing import Flash, Flashes, light_of
from inspector.tui.pictures.scene import Scene

FLASH_LOOK = 1.5
"""Seconds spent on looking for flashes before playing. Enough for a few seconds of a usual sequence; the rest is
watched while it plays."""

_WIDTH, _HEIGHT = 64, 36


class FlashWatch:
    """Holds the pictures of the last second against the thresholds of picture.flashing."""

    def __init__(self) -> None:
        self._flashes = Flashes()
        self._shown: deque[float] = deque()

    @property
    def count(self) -> int:
        """Pictures of the last second."""
        return len(self._shown)

    def flash(self, seconds: float, picture: Picture) -> Flash | None:
        """Whether the second that ends with this picture flashes more than three times; times rise."""
        self._shown.append(seconds)
        while self._shown[0] <= seconds - 1.0:
            self._shown.popleft()
        return self._flashes.add(seconds, light_of(picture))


class FlashesLooked(Message):
    """How the frames that were looked at flash."""

    def __init__(self, flash: Flash | None) -> None:
        super().__init__()
        self.flash = flash


def look_for_flashes(scene: Scene, rate: float, post: Callable[[Message], object], wanted: Callable[[], bool]) -> None:
    """Draw the frames small, from the scene's on and round to it again, as long as FLASH_LOOK allows; what is
    behind is watched while it plays. Posts FlashesLooked unless it isn't wanted any more."""
    watch, end = FlashWatch(), time.monotonic() + FLASH_LOOK
    frames = len(scene.source.view.facts)
    flash = None
    try:
        scene = scene.with_camera()
    except MeshqcError:
        frames = 0
    for step in range(frames):
        if not wanted():
            return
        if flash or time.monotonic() > end:
            break
        try:
            with np.errstate(all="ignore"):  # as for pictures that are shown (Painter)
                picture, _ = replace(scene, at=(scene.at + step) % frames).picture(_WIDTH, _HEIGHT)
        except MeshqcError:
            continue  # it is passed over when it is its turn
        flash = watch.flash(step / rate, picture)
    post(FlashesLooked(flash))
