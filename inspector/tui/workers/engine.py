"""The engine's work in threads. Each function runs the engine, and posts the results as messages."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from threading import Lock

from textual.message import Message

from inspector.checks.base.check import CheckScope
from inspector.delivery.deliver import deliver
from inspector.delivery.drafting import untried_plan
from inspector.delivery.plan import Plan
from inspector.delivery.planning import make_plan
from inspector.delivery.trial import Tried
from inspector.errors import Cancelled, MeshqcError, Refusal, SourceChanged
from inspector.fixes.base.registry import all_fixes
from inspector.inspection.inspection import FolderInspection, check_folder, first_look
from inspector.names import counted
from inspector.report.frame_rows import SequenceView, is_unread, unread
from inspector.sequence.discovery.discover import Discovery, discover
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.chunks import Urgent, nobody_looks
from inspector.sequence.run.collect import SAMPLES, SAMPLES_FROM, collect
from inspector.sequence.run.scan import Cancel
from inspector.tui.staged_fixes import Choices
from inspector.tui.styles import WORST_FIRST, tally
from inspector.tui.workers.messages import (
    Checked,
    NotPlanned,
    NotWritten,
    Planned,
    Planning,
    PlanRefused,
    Read,
    Stopped,
    Writing,
    Written,
)
from inspector.user_folders import user_folder

Post = Callable[[Message], object]
BETWEEN_REPORTS = 0.1  # seconds; ten reports per second can be followed by eye and sent over a slow connection
_JUDGED_FROM = 1.0  # seconds of work before the time left is estimated; earlier estimates would jump
ENGINE = Lock()  # the engine keeps frames that it has read; only one thread at a time may use it


class Pace:
    """The pace of progress reports: when the next report is due."""

    def __init__(self) -> None:
        self._last = 0.0

    def due(self) -> bool:
        """Return whether a report is due now. If so, start the wait for the next report."""
        now = time.monotonic()
        if now - self._last < BETWEEN_REPORTS:
            return False
        self._last = now
        return True

    def reported(self) -> None:
        """Record that the report has been made. The longer reporting took, the later the next report is due, so that
        reports take at most a tenth of the time."""
        took = time.monotonic() - self._last
        self._last += 10 * took


def read_and_check(
    root: Path, settings: Settings, post: Post, cancelled: Cancel, on_screen: Urgent = nobody_looks
) -> None:
    """Read all frames of the folder, first those on the screen, and check them.

    Post the message `Read` repeatedly, then `Checked` or `Stopped`.
    """
    with ENGINE:
        try:
            discovery = discover(root)
            views = _read(discovery, settings, post, cancelled, on_screen)
            post(Read(views, "checking", checking=True))
            inspection = check_folder(discovery, [(view.sequence, view.facts) for view in views], settings)
            all_fixes()  # loaded here, because the card of the first finding needs them
            post(Checked(inspection, views_of(inspection)))
        except Cancelled:
            post(Stopped("stopped: not all frames were read, and nothing was checked; r: read again"))
        except MeshqcError as error:
            post(Stopped(str(error), fatal=True))


def _read(
    discovery: Discovery, settings: Settings, post: Post, cancelled: Cancel, on_screen: Urgent
) -> tuple[SequenceView, ...]:
    """Read all frames, and report the progress and the first findings.

    The file names are checked first. If there are many frames, a few of them are read and checked before the others
    (see `collect`).

    Returns:
        The views with the facts of all frames, without an inspection.

    Raises:
        Cancelled: The work was stopped.
    """
    sequences = discovery.sequences
    facts = [[unread(file) for file in sequence.files] for sequence in sequences]
    total = sum(map(len, facts))

    def views() -> tuple[SequenceView, ...]:
        return _ready([SequenceView(one, tuple(own)) for one, own in zip(sequences, facts, strict=True)])

    pace = Pace()
    start = time.monotonic()
    looked = ""
    if total:
        looked = _first_look(discovery, views(), settings, CheckScope.FILES)
        post(Read(views(), f"{looked}reading {counted(total, 'file')}  ctrl+c: stop"))
    with closing(FactsCache(user_folder("cache"))) as cache:
        for done, (number, index, one) in enumerate(collect(sequences, cache, None, cancelled, on_screen), 1):
            facts[number][index] = one
            if done == SAMPLES and total >= SAMPLES_FROM:
                looked = _first_look(discovery, views(), settings, CheckScope.FRAME)
                pace = Pace()
            if pace.due():
                left = left_words(time.monotonic() - start, done, total)
                post(Read(views(), f"{looked}reading {done:,} of {total:,}{left}  ctrl+c: stop"))
                pace.reported()
    return views()


def left_words(seconds: float, done: int, total: int) -> str:
    """Return the time left, such as `, 12 s left`; empty in the first second, and if less than a second is left."""
    left = seconds * (total - done) / done
    return f", {left:.0f} s left" if seconds > _JUDGED_FROM and left >= 1.0 else ""


def _first_look(discovery: Discovery, views: Sequence[SequenceView], settings: Settings, scope: CheckScope) -> str:
    """Depending on `scope`, check the file names, or the frames that have been read so far. Return the tally of the
    findings in words."""
    of_names = scope is CheckScope.FILES
    read = [(view.sequence, tuple(one for one in view.facts if of_names or not is_unread(one))) for view in views]
    looked = first_look(discovery, read, settings, scope)
    found = tally([finding for one in looked for finding in one.findings]).plain
    return f"{'file names' if of_names else 'first frames'}: {found}  "


def check_again(before: FolderInspection, settings: Settings, post: Post) -> None:
    """Check the measured frames under other settings, without reading them again, and post Checked or Stopped."""
    with ENGINE:
        measured: list[tuple[FrameSequence, tuple[FrameFacts, ...]]] = [
            (one.sequence, one.series.facts) for one in before.inspections
        ]
        try:
            inspection = check_folder(before.discovery, measured, settings)
        except MeshqcError as error:
            post(Stopped(str(error)))
            return
        inspection = replace(inspection, not_sequences=before.not_sequences)
        post(Checked(inspection, views_of(inspection)))


def views_of(inspection: FolderInspection) -> tuple[SequenceView, ...]:
    """Return a view of each sequence, the worst first: sorted by the number of errors, then of warnings, then of
    notes."""

    def rank(view: SequenceView) -> tuple[int, ...]:
        severities = [finding.severity for finding in view.findings]
        return tuple(-severities.count(severity) for severity in WORST_FIRST)

    views = [SequenceView(one.sequence, one.series.facts, one) for one in inspection.inspections]
    return _ready(sorted(views, key=rank))


def _ready(views: Sequence[SequenceView]) -> tuple[SequenceView, ...]:
    """Call `compute` on every view, so that no key press has to wait for slow computations."""
    for view in views:
        view.compute()
    return tuple(views)


def _tried(post: Post, wanted: Callable[[], bool]) -> Tried:
    """Return a function that posts the progress, and that raises Cancelled once the plan is no longer wanted."""
    pace = Pace()

    def tried(done: int, of: int) -> None:
        if not wanted():
            raise Cancelled
        if pace.due():
            post(Planning(done, of))

    return tried


def reason_of(error: MeshqcError) -> str:
    """Return the message of an error. If a file has changed, the message names the key that reads the folder again."""
    return f"{error} (press r on the main screen)" if isinstance(error, SourceChanged) else str(error)


@contextmanager
def _failing_as_not_planned(choices: Choices, post: Post) -> Iterator[None]:
    """Post the message `NotPlanned` if a plan can't be made. Post nothing if the plan is no longer wanted."""
    try:
        yield
    except Cancelled:
        pass
    except MeshqcError as error:
        post(NotPlanned(choices, reason_of(error)))


def plan(inspection: FolderInspection, choices: Choices, post: Post, wanted: Callable[[], bool]) -> None:
    """Make a plan from the chosen fixes.

    Post the message `Planning` repeatedly, then `Planned`, `PlanRefused` or `NotPlanned`. Post nothing more once the
    plan is no longer wanted.
    """
    with ENGINE, _failing_as_not_planned(choices, post):
        if not wanted():
            return
        try:
            post(Planned(choices, choices, make_plan(inspection, choices, _tried(post, wanted))))
        except Refusal as refusal:
            post(PlanRefused(choices, str(refusal)))


def plan_again(inspection: FolderInspection, choices: Choices, post: Post, wanted: Callable[[], bool]) -> None:
    """Make a plan from fixes that were chosen earlier, for example before the folder was read again.

    Choices that no longer apply are dropped.

    Post the message `Planning` repeatedly, then `Planned` or `NotPlanned`. Post nothing more once the plan is no longer
    wanted.
    """
    with ENGINE, _failing_as_not_planned(choices, post):
        if not wanted():
            return
        kept: Choices = ()
        dropped = []
        for choice in choices:
            try:
                untried_plan(inspection, (*kept, choice))
            except Refusal as refusal:
                dropped.append(f"{choice.fix}: {refusal}")
            else:
                kept = (*kept, choice)
        post(Planned(choices, kept, make_plan(inspection, kept, _tried(post, wanted)), tuple(dropped)))


def write(plan: Plan, out: Path, post: Post, cancelled: Cancel) -> None:
    """Write and verify the corrected folder.

    Post the message `Writing` repeatedly, then `Written` or `NotWritten`.
    """
    paces: dict[str, Pace] = {}

    def progress(what: str, done: int, of: int) -> None:
        if paces.setdefault(what, Pace()).due():
            post(Writing(what, done, of))

    with ENGINE:
        try:
            post(Written(deliver(plan, out, progress, cancelled)))
        except Cancelled:
            post(NotWritten("stopped; the output folder was not created"))
        except MeshqcError as error:
            post(NotWritten(reason_of(error)))
