"""`meshqc checks`: all checks in a table."""

from __future__ import annotations

import sys

from inspector.checks.base.registry import all_checks
from inspector.cli.arguments import Arguments
from inspector.cli.streams import look_of
from inspector.fixes.base.registry import all_fixes
from inspector.report.json import json_text
from inspector.report.reference import table_text
from inspector.report.reference_document import table_document


def run(arguments: Arguments) -> int:
    """Exit code 0."""
    checks = all_checks()
    as_json = arguments.options.json
    sys.stdout.write(
        json_text(table_document(checks, all_fixes()))
        if as_json
        else table_text(checks, look_of(sys.stdout, arguments.options.color))
    )
    return 0
