"""`meshqc check`: inspect a folder and say what is wrong; with --part, measure a part of it for `meshqc merge`."""

from __future__ import annotations

import sys
from collections.abc import Callable

from inspector.checks.base.finding import Severity
from inspector.cli.arguments import Arguments
from inspector.cli.exit_codes import FOUND, fail
from inspector.cli.html_page import page_of, refuse_page_early, write_page
from inspector.cli.inspecting import cache, executor, incomplete, inspect, progress
from inspector.cli.next_steps import next_steps
from inspector.cli.streams import look_of
from inspector.inspection.inspection import FolderInspection
from inspector.report.csv import frame_table_text
from inspector.report.document import folder_document
from inspector.report.folder import folder_text
from inspector.report.json import json_text
from inspector.report.junit import junit_text
from inspector.report.lines import lines_text
from inspector.sequence.discovery.discover import discover
from inspector.sequence.run.collect import measure_spans
from inspector.sequence.run.shards import Part, part_document

LEVELS = {severity.word: severity for severity in Severity}
"""Word of --fail-on -> severity; "never" has none."""


def _text(result: FolderInspection, arguments: Arguments, _: Severity | None) -> str:
    return folder_text(result, next_steps(result, arguments), look_of(sys.stdout, arguments.options.color))


_FORMATS: dict[str, Callable[[FolderInspection, Arguments, Severity | None], str]] = {
    "text": _text,
    "json": lambda result, _, __: json_text(folder_document(result)),
    "junit": lambda result, _, level: junit_text(result, level),
    "lines": lambda result, arguments, _: lines_text(result, arguments.folder),
    "csv": lambda result, _, __: frame_table_text(result),
    "html": lambda result, _, __: page_of(result),
}
"""Word of --format -> the text on stdout, from the result, the command line and the severity that fails."""


def run(arguments: Arguments) -> int:
    """Exit code 0, 1 (findings at or above --fail-on) or 2 (nothing to inspect, or a check broke)."""
    if arguments.options.part is not None:
        return _measure_part(arguments)
    refuse_page_early(arguments)
    return tell(inspect(arguments), arguments)


def tell(result: FolderInspection, arguments: Arguments) -> int:
    """Print the verdict and return the exit code."""
    level = LEVELS.get(arguments.options.fail_on)
    sys.stdout.write(_FORMATS[arguments.options.format](result, arguments, level))
    sys.stdout.flush()
    write_page(result, arguments)
    broken = incomplete(result)
    if broken:
        return fail(broken)
    return FOUND if level is not None and result.reaches(level) else 0


def _measure_part(arguments: Arguments) -> int:
    """Print the facts of this part's frames; exit code 0, since the verdict is the merge's to give."""
    part = Part(*arguments.options.part)
    discovery = discover(arguments.folder)
    sequences = discovery.sequences
    with progress() as show, cache(arguments) as known, executor(arguments) as measuring:
        rows = []
        for number, index, facts in measure_spans(sequences, part.spans(sequences), known, measuring):
            show(sequences[number], facts)
            rows.append((facts, sequences[number].files[index - 1] if index else None))
    sys.stdout.write(json_text(part_document(part, discovery.root, rows)))
    return 0
