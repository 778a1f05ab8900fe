"""The HTML page of an inspection, made with progress on stderr, and written where the user says."""

from __future__ import annotations

from inspector.cli.arguments import Arguments, read_by
from inspector.cli.streams import ProgressLine
from inspector.delivery.deliver import Delivery
from inspector.delivery.output_file import refuse_early, write_placed
from inspector.delivery.plan import Plan
from inspector.inspection.inspection import FolderInspection
from inspector.report.html.gather import gather
from inspector.report.html.page import html_text
from inspector.sequence.series import Series


def refuse_page_early(arguments: Arguments) -> None:
    """Nobody shall wait for a page that can't be written. The option becomes the page's place."""
    if arguments.options.report is not None:
        (arguments.options.report,) = refuse_early(
            [arguments.options.report], (".html",), read_by(arguments), option="--report"
        )


def write_page(
    result: FolderInspection, arguments: Arguments, plan: Plan | None = None, delivery: Delivery | None = None
) -> None:
    """Write the page of --report, if it is asked for."""
    if arguments.options.report is not None:
        write_placed(arguments.options.report, page_of(result, plan, delivery).encode("ascii"))


def page_of(result: FolderInspection, plan: Plan | None = None, delivery: Delivery | None = None) -> str:
    """The page; reads frames again for its pictures and for texture fit."""
    with ProgressLine() as line:

        def show(series: Series, doing: str, done: int, of: int) -> None:
            line.show(f"{series.sequence.pattern}: {doing}, {done:,} of {of:,}")

        return html_text(gather(result, show, plan, delivery))
