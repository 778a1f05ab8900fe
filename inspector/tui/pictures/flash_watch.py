"""Watch pictures for flashes while they are shown, and look for flashes in the frames before they are played."""

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
"""Maximum time spent looking for flashes before playing, in seconds. It is enough for a few seconds of a typical
sequence; the other frames are watched while they play."""

_WIDTH, _HEIGHT = 64, 36


class FlashWatch:
    """A detector of flashes in the pictures that were shown in the last second (see `inspector.picture.flashing`)."""

    def __init__(self) -> None:
        self._flashes = Flashes()
        self._shown: deque[float] = deque()

    @property
    def count(self) -> int:
        """Number of pictures shown in the last second."""
        return len(self._shown)

    def flash(self, seconds: float, picture: Picture) -> Flash | None:
        """Add the next picture, (h, w, 3), and its time in seconds, and look for flashes in the last second.

        Returns:
            When the flashes began and whether they are red, if there were more than three in the last second; otherwise
            None.
        """
        self._shown.append(seconds)
        while self._shown[0] <= seconds - 1.0:
            self._shown.popleft()
        return self._flashes.add(seconds, light_of(picture))


class FlashesLooked(Message):
    """The result of a search for flashes.

    Args:
        flash: The earliest second with too many flashes; None if no such second was found.
    """

    def __init__(self, flash: Flash | None) -> None:
        super().__init__()
        self.flash = flash


def look_for_flashes(scene: Scene, rate: float, post: Callable[[Message], object], wanted: Callable[[], bool]) -> None:
    """Look for the earliest second with too many flashes. Stop looking after about FLASH_LOOK seconds.

    Begin with the scene's frame; after the last frame, continue with the first. Post FlashesLooked, unless `wanted`
    returns False.

    Args:
        scene: The scene of the frame to begin with. All frames are drawn as in this scene, but smaller.
        rate: Frames per second.
        post: Function that posts a message.
        wanted: Function that returns whether the result is still wanted.
    """
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
            continue  # playback skips this frame as well
        flash = watch.flash(step / rate, picture)
    post(FlashesLooked(flash))
