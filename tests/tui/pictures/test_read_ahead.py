"""Tests of frames that are read before they are played."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from threading import Event, Thread

import numpy as np
import pytest

from inspector.errors import MeshqcError
from inspector.inspection.inspection import inspect_folder
from inspector.tui.pictures import frame_store, read_ahead
from inspector.tui.pictures.frame_store import FrameStore, ReadFrame
from inspector.tui.pictures.read_ahead import PlaybackClock, ReadAhead
from tests.helpers.tui.world import view_of

FRAMES = 40


class Playing:
    """A sequence that is played according to a clock that the test sets. Reading a frame takes `reading` seconds."""

    def __init__(self, folder: Path, patch: pytest.MonkeyPatch, *, reading: float = 0.0, rate: float = 10.0) -> None:
        corners = "v {} 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n"
        for number in range(1, FRAMES + 1):
            (folder / f"kelp.{number:04}.obj").write_text(corners.format(-number / 100))
        self.now = 100.0
        patch.setattr(read_ahead, "AHEAD_SHARE", -1.0)
        self.read: list[int] = []
        patch.setattr(time, "monotonic", lambda: self.now)
        view = view_of(inspect_folder(folder).inspections[0])
        self.store = FrameStore(view)
        really = self.store.read

        def slowly(at: int) -> ReadFrame:
            self.now += reading
            self.read.append(at)
            return really(at)

        patch.setattr(self.store, "read", slowly)
        self.clock = PlaybackClock(view, 0, rate, self.now)
        self.ahead = ReadAhead(self.store, self.clock, lambda work: work())


def test_the_next_frames_are_read_and_no_more(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    play = Playing(tmp_path, monkeypatch)
    play.ahead.go_on()
    assert play.read == list(range(1, frame_store.AHEAD_FRAMES + 1))
    play.ahead.go_on()
    assert len(play.read) == frame_store.AHEAD_FRAMES
    for count in range(1, 8):
        assert play.ahead.newest(shown=count - 1) is None
        play.now += 0.1001
        assert play.ahead.newest(shown=count - 1) == count
        play.ahead.go_on()
        # there is no thread for one or two frames
        assert len(play.read) in (frame_store.AHEAD_FRAMES, frame_store.AHEAD_FRAMES + 7)
    assert play.read == list(range(1, frame_store.AHEAD_FRAMES + 8))


def test_what_is_read_at_once_is_read_when_it_is_drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Frames are read ahead if reading a frame takes more than AHEAD_SHARE (0.2 here) of the time between two frames,
    which is 0.1 s at 10 fps."""
    for reading, ahead in ((0.01, 0), (0.05, 6)):
        folder = tmp_path / str(ahead)
        folder.mkdir()
        play = Playing(folder, monkeypatch, reading=reading)
        monkeypatch.setattr(read_ahead, "AHEAD_SHARE", 0.2)
        monkeypatch.setattr(frame_store, "AHEAD_FRAMES", 6)
        monkeypatch.setattr(read_ahead, "AHEAD_FRAMES", 6)
        play.store.frame(0)
        play.ahead.go_on()
        assert (len(play.read) > 1) is (ahead > 0)
        play.now = play.clock.began + 0.45
        assert play.ahead.newest(shown=0) == 4
        assert play.ahead.newest(shown=4) is None


def test_the_end_is_followed_by_the_start(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    play = Playing(tmp_path, monkeypatch)
    for _ in range(50):
        play.ahead.go_on()
        play.now += 0.1
    assert sorted(play.read) == list(range(FRAMES))  # each is read once, because all of them fit
    assert play.clock.row(FRAMES + 2) == 2


def test_a_few_frames_are_kept_of_a_long_sequence(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    play = Playing(tmp_path, monkeypatch)
    play.store.frame(0)
    one = play.store.bytes
    play.store.frame(1)
    more = play.store.bytes - one
    monkeypatch.setattr(frame_store, "VIEWER_BYTES", play.store.bytes + 6 * more)
    for _ in range(100):
        play.ahead.go_on()
        play.now += 0.1
        assert play.store.bytes <= frame_store.VIEWER_BYTES
        shown = play.ahead.newest(shown=int(play.clock.due()) - 1)
        assert shown == int(play.clock.due())  # nevertheless, no frame is left out
    assert len(play.read) > FRAMES


def test_where_reading_is_slow_what_is_due_by_then_is_read(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    play = Playing(tmp_path, monkeypatch, reading=0.5)
    monkeypatch.setattr(play.store, "read", one_at_a_time(play))
    shown = [0]
    for _ in range(14):
        play.ahead.go_on()
        newest = play.ahead.newest(shown[-1])
        if newest is not None:
            shown.append(newest)
        play.now += 0.05
    assert len(shown) > 10
    assert (np.diff(shown[5:]) >= 5).all()  # half a second is five frames
    assert (np.array(shown) <= play.clock.due()).all()
    assert play.clock.due() - shown[-1] < 8.0  # and it is never late by more than the time that a frame takes


def one_at_a_time(play: Playing) -> Callable[[int], ReadFrame]:
    """Return a function that stops reading ahead and then reads a frame."""
    really = play.store.read

    def read(at: int) -> ReadFrame:
        play.ahead.stop()
        return really(at)

    return read


def test_where_drawing_is_slow_frames_that_nobody_sees_are_not_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(frame_store, "AHEAD_FRAMES", 6)
    monkeypatch.setattr(read_ahead, "AHEAD_FRAMES", 6)
    play = Playing(tmp_path, monkeypatch)

    def shown(pictures: int, seconds: float) -> list[int]:
        counts = [int(play.clock.due())]
        for _ in range(pictures):
            play.ahead.go_on()
            play.now += seconds
            newest = play.ahead.newest(counts[-1])
            if newest is not None:
                counts.append(newest)
        return counts

    counts = shown(10, 0.301)
    assert len(play.read) < 20  # of 36 frames
    assert counts[-1] >= int(play.clock.due()) - 3
    counts = shown(60, 0.1001)
    assert np.diff(counts[-20:]).tolist() == [1] * 19


def test_a_file_that_went_away_is_told_of_and_holds_up_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    play = Playing(tmp_path, monkeypatch)
    (tmp_path / "kelp.0003.obj").unlink()
    play.ahead.go_on()
    assert play.read == list(range(1, frame_store.AHEAD_FRAMES + 1))
    play.now += 0.25
    assert play.ahead.newest(shown=0) == 2
    with pytest.raises(MeshqcError, match=r"kelp\.0003\.obj"):
        play.store.frame(2)


def test_nobody_waits_for_a_frame_that_is_read_already(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    play = Playing(tmp_path, monkeypatch)
    play.store.frame(0)
    begun, go_on = Event(), Event()
    really = play.store.read

    def stalled(at: int) -> ReadFrame:
        begun.set()
        assert go_on.wait(20.0)
        return really(at)

    monkeypatch.setattr(play.store, "read", stalled)
    reading = Thread(target=play.store.frame, args=(1,))
    reading.start()
    assert begun.wait(20.0)
    assert play.store.frame(0) is play.store.at_hand(0)
    assert play.store.at_hand(1) is None
    go_on.set()
    reading.join(20.0)
    assert play.store.at_hand(1) is not None
