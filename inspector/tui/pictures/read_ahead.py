"""The playback clock, and a thread that reads the next frames while other frames are drawn."""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import dataclass, field
from threading import Lock

from inspector.errors import MeshqcError
from inspector.report.frame_rows import SequenceView
from inspector.tui.pictures.frame_store import AHEAD_FRAMES, FrameStore

Work = Callable[[], None]

AHEAD_SHARE = 0.3
"""Frames are read ahead only if reading a frame takes at least this fraction of the time between two frames. Otherwise,
a second thread costs more time than it saves: on two busy cores, it reduced the rate from 17 to 13 pictures per second
(measured)."""

_TRY = 0.9
"""Step between the frames that are read, as a multiple of the recent step between the frames that were shown. It is
slightly less than 1, so that more frames can be shown as soon as drawing or sending becomes faster."""


@dataclass(frozen=True, slots=True)
class PlaybackClock:
    """A clock that counts frames, beginning at a row of the view. After the last row of the view comes the first.

    Attributes:
        view: The sequence.
        first: Row of the view at which the clock begins.
        rate: Frames per second.
        began: Time of the start on the monotonic clock, in seconds.
    """

    view: SequenceView
    first: int
    rate: float
    began: float = field(default_factory=time.monotonic)

    def due(self) -> float:
        """Return the number of frames since the start, including the fraction of the current frame."""
        return (time.monotonic() - self.began) * self.rate

    def row(self, count: int) -> int:
        """Return the row that the clock reaches after `count` frames."""
        return (self.first + count) % len(self.view.rows)


class ReadAhead:
    """A reader of the frames that playback will show.

    If reading is slower than the clock, frames that would be read too late are skipped. If drawing or sending is slower
    than the clock, nearly as many frames are skipped in reading as in playback.
    """

    def __init__(self, store: FrameStore, clock: PlaybackClock, work: Callable[[Work], None]) -> None:
        self._store = store
        self._clock = clock
        self._work = work
        self._lock = Lock()
        self._running = False
        self._wanted, self._read = 1.0, 0  # counts of the next frame to read, and of the last frame that was read
        self._step = 1.0  # mean number of frames from a frame that is shown to the next frame that is shown
        self._failed: set[int] = set()

    @property
    def _pays(self) -> bool:
        return self._store.seconds * self._clock.rate > AHEAD_SHARE

    def go_on(self) -> None:
        """Continue reading in a thread, if necessary.

        It isn't necessary if a thread is already reading, if more than half of the maximum number of frames have been
        read ahead, or if reading is so fast that frames can be read when they are drawn.
        """
        with self._lock:
            if self._running or not self._pays or self._wanted > int(self._clock.due()) + self._store.ahead // 2:
                return
            self._running = True
        self._work(self._read_on)

    def stop(self) -> None:
        self._running = False

    def newest(self, shown: int) -> int | None:
        """Find the newest frame that is due and comes after frame `shown`.

        If frames are read ahead, only frames that can be drawn without reading are considered. Return the number of
        frames from the start of playback to the frame that was found; None if no frame was found. The caller is assumed
        to show this frame next.
        """
        due = int(self._clock.due())
        if not self._pays:
            return due if due > shown else None
        within = range(due, max(shown, due - AHEAD_FRAMES), -1)
        late = self._read if shown < self._read <= due else None
        newest = next((count for count in within if self._ready(count)), late)
        if newest is not None:
            self._step += (newest - shown - self._step) / 4.0
        return newest

    def _ready(self, count: int) -> bool:
        """Return whether a row can be shown without reading a file.

        Either the frame of such a row is in memory, or there is nothing to draw.

        Args:
            count: Number of frames from the start of playback to the row.
        """
        view = self._clock.view
        at = view.rows[self._clock.row(count)].at
        return at is None or not view.facts[at].filled or at in self._failed or self._store.at_hand(at) is not None

    def _read_on(self) -> None:
        view = self._clock.view
        while (count := self._next()) is not None and (at := view.rows[self._clock.row(count)].at) is not None:
            try:
                self._store.frame(at)
            except MeshqcError:
                self._failed.add(at)  # the reason is reported when it is drawn
            self._read = count

    def _next(self) -> int | None:
        """Return the number of frames from the start of playback to the frame to read now; None if no frame need be
        read."""
        with self._lock:
            due, rate = self._clock.due(), self._clock.rate
            soonest = int(due + self._store.seconds * rate)
            last = max(int(due) + self._store.ahead, soonest)
            wanted, stride = max(self._wanted, soonest), max(1.0, _TRY * self._step)
            while wanted <= last and self._ready(int(wanted)):
                wanted += stride
            self._running = self._running and wanted <= last
            self._wanted = wanted + stride if self._running else wanted
            return int(wanted) if self._running else None
