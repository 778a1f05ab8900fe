"""Watch an export in a thread. Post the frames that arrive, and an alarm when an error with a new cause occurs."""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Sequence
from fractions import Fraction
from pathlib import Path
from threading import Event

from inspector.checks.base.finding import Finding
from inspector.errors import MeshqcError
from inspector.inspection.arrivals import Arrival, Arrivals, Doubts
from inspector.inspection.inspection import FolderInspection, check_folder
from inspector.names import counted
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.settings import Settings, frame_text
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.watch import FolderState, watch
from inspector.tui.columns import title_of
from inspector.tui.workers.engine import ENGINE, Post, views_of
from inspector.tui.workers.messages import Alarm, Checked, Read, Stopped

_RATED = 20  # maximum number of frames from which the rate is computed; the newest frames are used
_FEWEST_RATED = 3  # minimum number of frames that arrived later than the first of these frames
_QUIET = 10.0  # seconds without a new frame before the time since the last frame is shown
Measured = Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]]


def measured_of(inspection: FolderInspection | None) -> Measured:
    """Return the sequences of an inspection with their measured facts; empty if there is no inspection."""
    return [(one.sequence, one.series.facts) for one in inspection.inspections] if inspection else []


def watch_and_check(
    root: Path, settings: Settings, known: Measured, post: Post, stop: Event, wanted: Callable[[], bool]
) -> None:
    """Watch the folder until `stop` is set. Then check the frames that have arrived, unless `wanted` returns False.

    Post Read when frames arrive or the progress changes, Alarm once for each cause, and Checked after the check. Frames
    whose facts are in `known` raise no alarm. If the folder can't be read, post Stopped.
    """
    with ENGINE:
        try:
            last = _watch(root, settings, known, post, stop)
            if not wanted():
                return
            inspection = check_folder(last.discovery, last.measured, settings)
            post(Checked(inspection, views_of(inspection)))
        except MeshqcError as error:
            post(Stopped(str(error), fatal=True))


def _watch(root: Path, settings: Settings, known: Measured, post: Post, stop: Event) -> FolderState:
    arrivals, doubts, alarms = Arrivals(settings), Doubts(), Alarms()
    old = {one.file.path for _, facts in known for one in facts}
    views: tuple[SequenceView, ...] = ()
    shown_words, rate = "", ""
    times: deque[float] = deque(maxlen=_RATED)
    for look in watch(root, lambda seconds: not stop.wait(seconds), known):
        news = [one for one in arrivals.take(look) if one.facts.file.path not in old]
        if look.arrived or not shown_words:
            views = tuple(SequenceView(one.sequence, one.series.facts, one) for one in arrivals.looked(look))
        times.extend([time.monotonic()] * len(news))
        if look.arrived:
            rate = rate_words(times, settings, sum(len(facts) for _, facts in look.measured))
        words = _words(look) + _since(times) + rate
        if look.arrived or words != shown_words:
            post(Read(views, words))
            shown_words = words
        for bad in doubts.take(news, time.monotonic()):
            words = alarms.words(bad)
            if words:
                post(Alarm(words))
    return look


def rate_words(times: Sequence[float], settings: Settings, came: int) -> str:
    """Return the rate of arrival, such as `  12 per minute`, and the time until all stated frames have arrived.

    Return an empty text if too few frames have arrived. Frames with the earliest time are not counted, because they may
    have existed before watching began.

    Args:
        times: Time of arrival of each frame, in seconds. Frames found by the same poll have the same time.
        settings: The settings, for the frame range that the user stated.
        came: Number of frames that have arrived so far.
    """
    later = sum(one > times[0] for one in times)
    if later < _FEWEST_RATED:
        return ""
    rate = 60.0 * later / (times[-1] - times[0])
    left = 0 if settings.expected is None else int(settings.expected[1] - settings.expected[0]) + 1 - came
    return f"  {rate:.3g} per minute" + (f"  about {max(1, round(left / rate))} min left" if left > 0 else "")


def _since(times: Sequence[float]) -> str:
    """Return the time since the last frame, such as `  last frame 40 s ago`, rounded so that the text rarely changes.

    The text is empty if no frame has arrived yet, or if a frame arrived in the last _QUIET seconds.
    """
    seconds = time.monotonic() - times[-1] if times else 0.0
    if seconds < _QUIET:
        return ""
    return (
        f"  last frame {seconds // 10 * 10:.0f} s ago" if seconds < 120 else f"  last frame {seconds // 60:.0f} min ago"
    )


def _words(look: FolderState) -> str:
    count = sum(len(facts) for _, facts in look.measured)
    growing = f"  {len(look.growing)} being written" if look.growing else ""
    came = counted(count, "frame") if count else "no frame yet"
    return f"live: {came}  L: end{growing}"


class Alarms:
    """The causes that have raised an alarm. Every new cause raises another alarm, because an export that is already
    wrong can become worse."""

    def __init__(self) -> None:
        self._rung: set[tuple[str, object]] = set()

    def words(self, arrival: Arrival) -> str:
        """Return the text of an alarm, such as `frame 3: No UVs  manta.0003.obj`, for the newest cause of a bad frame.

        Return an empty text if every cause has already raised an alarm.
        """
        new = [error for error in arrival.errors if error.cause not in self._rung]
        self._rung.update(error.cause for error in new)
        if not new:
            return ""
        number = arrival.facts.number
        newest = min(new, key=lambda error: _before(error, number))
        return f"frame {frame_text(number)}: {title_of(newest.check)}  {arrival.file.display}"


def _before(error: Finding, number: Fraction) -> int:
    """Return the number of earlier frames that have the finding."""
    return sum(one < number for one in error.frames)
