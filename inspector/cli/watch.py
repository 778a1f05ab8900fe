"""`meshqc watch`: the verdict on each frame as an export writes it."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator

from inspector.cli.arguments import Arguments
from inspector.cli.check import LEVELS
from inspector.cli.exit_codes import FOUND, fail, say
from inspector.cli.next_steps import check_command, quoted
from inspector.cli.streams import look_of
from inspector.inspection.arrivals import Arrival, Arrivals, Doubts
from inspector.inspection.inspection import check_folder
from inspector.report.arrival import arrival_lines
from inspector.report.text import verdict_text
from inspector.report.text_style import Look as Style
from inspector.sequence.run.watch import Look, watch


def run(arguments: Arguments) -> int:
    """Exit code 0, 1 (findings at or above --fail-on, or stopped at the first error) or 2 (no frame came)."""
    arrivals, doubts, last = Arrivals(arguments.settings), Doubts(), None
    style = look_of(sys.stdout, arguments.options.color)
    try:
        for look in _looks(arguments):
            if last is None:  # not sooner: of a folder that isn't there only that is said
                say(f"watching {quoted(arguments.folder)}; Ctrl-C ends it")
            last = look
            news = arrivals.take(look)
            _tell(news, style)
            bad = doubts.take(news, time.monotonic())
            if bad and arguments.options.stop_on_error:
                say(f"stopped at {bad[0].file}, the first error; all about it: {check_command(arguments)}")
                return FOUND
    except KeyboardInterrupt:
        say("")  # the terminal shows ^C on the line
    return _end(last, arguments)


def _looks(arguments: Arguments) -> Iterator[Look]:
    """Looks at the folder, up to the one that --until or --quiet-for ends with."""
    until, patience = arguments.options.until, arguments.options.quiet_for
    busy = time.monotonic()

    def wait(seconds: float) -> bool:
        left = seconds if patience is None else busy + patience - time.monotonic()
        time.sleep(max(0.0, min(seconds, left)))
        return True

    for look in watch(arguments.folder, wait):
        yield look
        if look.arrived or look.growing:
            busy = time.monotonic()
        if until is not None and sum(len(facts) for _, facts in look.measured) >= until:
            return
        if patience is not None and time.monotonic() - busy >= patience:
            return


def _tell(news: list[Arrival], look: Style) -> None:
    for arrival in news:
        sys.stdout.write("".join(f"{line}\n" for line in arrival_lines(arrival, look)))
    sys.stdout.flush()


def _end(last: Look | None, arguments: Arguments) -> int:
    """The verdict of all checks on the frames that came."""
    if last is None or not last.measured:
        return fail(f"no frame came to {quoted(arguments.folder)}")
    result = check_folder(last.discovery, last.measured, arguments.settings)
    sys.stdout.write(f"verdict: {verdict_text(result)}\n")
    say(f"next: {check_command(arguments)}")
    level = LEVELS.get(arguments.options.fail_on)
    return FOUND if level is not None and result.reaches(level) else 0
