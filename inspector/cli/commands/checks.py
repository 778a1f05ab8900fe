"""`meshqc checks`: list all checks in a table."""

from __future__ import annotations

import sys

from inspector.cli import options as shared
from inspector.cli.command import PRINTED_EXIT_CODES, Arguments, Command, Group, Options, Topic


class ChecksOptions(Options):
    """Options of `checks`.

    Attributes:
        json: Whether the checks and fixes are printed as JSON.
    """

    json: bool


def add_options(options: Group) -> None:
    shared.json(options, "all checks and fixes, with their explanations,")


def run(arguments: Arguments[ChecksOptions]) -> int:
    """Print the table of checks, and return exit code 0."""
    from inspector.checks.base.registry import all_checks
    from inspector.cli.streams import style_of
    from inspector.fixes.base.registry import all_fixes
    from inspector.report.document import json_text
    from inspector.report.reference import table_text
    from inspector.report.reference_document import table_document

    checks = all_checks()
    if arguments.options.json:
        sys.stdout.write(json_text(table_document(checks, all_fixes())))
    else:
        sys.stdout.write(table_text(checks, style_of(sys.stdout, arguments.options.color)))
    return 0


COMMAND = Command(
    name="checks",
    topic=Topic.REFERENCE,
    summary="List all checks.",
    options=ChecksOptions,
    add_options=add_options,
    run=run,
    notes=PRINTED_EXIT_CODES,
    examples=("meshqc checks",),
)
