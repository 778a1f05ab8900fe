"""Run `meshqc watch`: check each frame as an export writes it."""

from __future__ import annotations

import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from inspector.cli.command import Arguments
from inspector.cli.commands.watch import WatchOptions
from inspector.cli.exit_codes import FOUND, fail, say
from inspector.cli.inspecting import name_rules
from inspector.cli.next_steps import check_command
from inspector.cli.quoting import quoted
from inspector.cli.reporting import failing_severity, page_destination, print_verdict, write_page
from inspector.cli.streams import style_of
from inspector.inspection.arrivals import Arrival, Arrivals, Doubts
from inspector.inspection.inspection import check_folder
from inspector.report.text import arrival_lines, verdict_text
from inspector.report.text_style import TextStyle
from inspector.sequence.run.watch import FolderState, watch


def watch_folder(arguments: Arguments[WatchOptions]) -> int:
    """Check each frame as it arrives; when watching ends, print the verdict.

    Returns:
        Exit code 0; 1 if there are findings at or above --fail-on, or if --stop-on-error ended watching; 2 if no frame
        arrived, or if a check failed and the report format is not text.
    """
    arrivals, doubts, last = Arrivals(arguments.settings), Doubts(), None
    page = page_destination(arguments)
    report = arguments.options.format != "text"
    news_to = sys.stderr if report else sys.stdout
    style = style_of(news_to, arguments.options.color)
    try:
        for look in _looks(arguments):
            if last is None:  # only now, so that nothing but the error is printed if the folder is missing
                say(f"watching {quoted(arguments.folder)}; press Ctrl-C to stop")
                name_rules(arguments.settings)
            last = look
            news = arrivals.take(look)
            _print(news, style, news_to)
            bad = doubts.take(news, time.monotonic())
            if bad and arguments.options.stop_on_error:
                details = check_command(arguments.folder, arguments.settings)
                say(f"stopped: {bad[0].file} has the first error; for details: {details}")
                if report or page is not None:
                    return _end(look, arguments, page) or FOUND
                return FOUND
    except KeyboardInterrupt:
        say("")  # the terminal shows ^C on the line
    return _end(last, arguments, page)


def _looks(arguments: Arguments[WatchOptions]) -> Iterator[FolderState]:
    """Poll the folder and yield the result of each poll until the condition of `--until` or `--quiet-for` is met."""
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


def _print(news: list[Arrival], style: TextStyle, stream: TextIO) -> None:
    for arrival in news:
        stream.write("".join(f"{line}\n" for line in arrival_lines(arrival, style)))
    stream.flush()


def _end(last: FolderState | None, arguments: Arguments[WatchOptions], page: Path | None) -> int:
    if last is None or not last.measured:
        return fail(f"no frame arrived in {quoted(arguments.folder)}")
    result = check_folder(last.discovery, last.measured, arguments.settings)
    if arguments.options.format != "text":
        return print_verdict(result, arguments, page)
    sys.stdout.write(f"verdict: {verdict_text(result)}\n")
    write_page(page, result)
    say(f"next: {check_command(arguments.folder, arguments.settings)}")
    level = failing_severity(arguments.options.fail_on)
    return FOUND if level is not None and result.reaches(level) else 0
