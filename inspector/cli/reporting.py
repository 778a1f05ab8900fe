"""Print the verdict on stdout, and write the HTML page."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from inspector.checks.base.finding import Severity
from inspector.cli.command import Arguments
from inspector.cli.exit_codes import FOUND, fail
from inspector.cli.inspecting import incomplete, name_rules
from inspector.cli.next_steps import next_steps
from inspector.cli.options import ReportOptions, VerdictOptions
from inspector.cli.streams import ProgressLine, style_of
from inspector.inspection.inspection import FolderInspection
from inspector.report.formats import Request, all_formats
from inspector.sequence.series import Series

if TYPE_CHECKING:  # slow to import, and only needed for a page about a fix
    from inspector.delivery.deliver import Delivery
    from inspector.delivery.plan import Plan

_LEVELS = {severity.word: severity for severity in Severity}


def failing_severity(word: str) -> Severity | None:
    """Return the severity for a value of `--fail-on`, or None for "never"."""
    return _LEVELS.get(word)


def print_verdict(result: FolderInspection, arguments: Arguments[VerdictOptions], page: Path | None) -> int:
    """Print the report in the format given with `--format`, write the HTML page, and return the exit code.

    `page` is the path of the HTML page (from `page_destination`); None for no page.
    """
    level = failing_severity(arguments.options.fail_on)
    with ProgressLine() as line:
        request = Request(
            folder=arguments.folder,
            fail_on=level,
            style=style_of(sys.stdout, arguments.options.color),
            next_steps=next_steps(result, arguments.folder, arguments.settings),
            progress=_shown_on(line),
        )
        form = all_formats()[arguments.options.format]
        text = form.render(result, request)
    if not form.names_rules:
        name_rules(result.settings)
    sys.stdout.write(text)
    sys.stdout.flush()
    write_page(page, result)
    broken = incomplete(result)
    if broken:
        return fail(broken)
    return FOUND if level is not None and result.reaches(level) else 0


def page_destination(arguments: Arguments[ReportOptions]) -> Path | None:
    """Check the path given with `--report` before the work begins, and return it; None if the option isn't given.

    If a parent folder of the path is a link, the link is resolved.

    Raises:
        Refusal: A file exists at the path, or the path is in a folder that is read.
        MeshqcError: The extension isn't `.html`, or the folder of the path doesn't exist or can't be written to.
    """
    if arguments.options.report is None:
        return None
    from inspector.delivery.output_file import refuse_early

    (destination,) = refuse_early([arguments.options.report], (".html",), arguments.scope, option="--report")
    return destination


def write_page(
    page: Path | None, result: FolderInspection, plan: Plan | None = None, delivery: Delivery | None = None
) -> None:
    """Write the HTML page to `page`, unless `page` is None. Frames are read again for the pictures on the page.

    `plan` is None if there is no plan, and `delivery` is None if nothing was delivered.

    Raises:
        Refusal: A file already exists at the path.
        OSError: The page can't be written.
    """
    if page is None:
        return
    from inspector.delivery.output_file import write_placed
    from inspector.report.html.gather import gather
    from inspector.report.html.page import html_text

    with ProgressLine() as line:
        text = html_text(gather(result, _shown_on(line), plan, delivery))
    write_placed(page, text.encode("ascii"))


def _shown_on(line: ProgressLine) -> Callable[[Series, str, int, int], None]:
    def show(series: Series, doing: str, done: int, total: int) -> None:
        line.show(f"{series.sequence.pattern}: {doing}, {done:,} of {total:,}")

    return show
