"""Watching an export, in a thread: posts what came, and an alarm for the first frame that is wrong."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from pathlib import Path
from threading import Event

from inspector.checks.base.arrivals import Arrival, Arrivals, Doubts
from inspector.checks.base.finding import Severity
from inspector.checks.base.inspect import FolderInspection, check_folder
from inspector.errors import MeshqcError
from inspector.report.view import SequenceView
from inspector.sequence.discover import Sequence as FrameSequence
from inspector.sequence.facts import FrameFacts
from inspector.sequence.settings import Settings
from inspector.sequence.watch import Look, watch
from inspector.tui.columns import title_of
from inspector.tui.engine import ENGINE, Post, views_of
from inspector.tui.messages import Alarm, Checked, Read, Stopped
from inspector.tui.styles import counted

Measured = Sequence[tuple[FrameSequence, tuple[FrameFacts, ...]]]


def measured_of(inspection: FolderInspection | None) -> Measured:
    """What need not be measured again."""
    return [(one.sequence, one.series.facts) for one in inspection.inspections] if inspection else []


def watch_and_check(
    root: Path, settings: Settings, known: Measured, post: Post, stop: Event, wanted: Callable[[], bool]
) -> None:
    """Watch the folder until `stop` is set, then check what came, if that is wanted. known: what is measured already;
    its frames raise no alarm. Posts Read where something came, Alarm once, and Checked or Stopped at the end."""
    with ENGINE:
        try:
            last = _watch(root, settings, known, post, stop)
            if not wanted():
                return
            inspection = check_folder(last.discovery, last.measured, settings)
            post(Checked(inspection, views_of(inspection)))
        except MeshqcError as error:
            post(Stopped(str(error), fatal=True))


def _watch(root: Path, settings: Settings, known: Measured, post: Post, stop: Event) -> Look:
    arrivals, doubts, alarmed = Arrivals(settings), Doubts(), False
    old = {one.file.path for _, facts in known for one in facts}
    views: tuple[SequenceView, ...] = ()
    told = ""
    for look in watch(root, lambda seconds: not stop.wait(seconds), known):
        news = [one for one in arrivals.take(look) if one.facts.file.path not in old]
        if look.arrived or not told:
            views = tuple(SequenceView(one.sequence, one.series.facts, one) for one in arrivals.looked(look))
        words = _words(look)
        if look.arrived or words != told:
            post(Read(views, words))
            told = words
        bad = doubts.take(news, time.monotonic())
        if bad is not None and not alarmed:
            alarmed = True
            post(Alarm(alarm_text(bad)))
    return look


def _words(look: Look) -> str:
    count = sum(len(facts) for _, facts in look.measured)
    growing = f", {len(look.growing)} being written" if look.growing else ""
    return f"live: {counted(count, ('frame', 'frames'))}{growing}  l: end" if count or growing else "live: no frame yet"


def alarm_text(arrival: Arrival) -> str:
    """`manta.0003.obj: No UVs`"""
    worst = next(finding for finding in arrival.findings if finding.severity is Severity.ERROR)
    return f"{arrival.file.display}: {title_of(worst.check)}"
