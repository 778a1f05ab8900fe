"""`meshqc check`: inspect a folder and say what is wrong."""

from __future__ import annotations

import sys

from inspector.checks.base.finding import Severity
from inspector.cli.arguments import Arguments
from inspector.cli.ending import FOUND, fail
from inspector.cli.inspecting import incomplete, inspect
from inspector.cli.next_steps import next_steps
from inspector.cli.screen import look_of
from inspector.report.document import folder_document
from inspector.report.json import json_text
from inspector.report.text import folder_text

_LEVELS = {severity.word: severity for severity in Severity}


def run(arguments: Arguments) -> int:
    """Exit code 0, 1 (findings at or above --fail-on) or 2 (nothing to inspect, or a check broke)."""
    result = inspect(arguments)
    if arguments.options.json:
        sys.stdout.write(json_text(folder_document(result)))
    else:
        sys.stdout.write(folder_text(result, next_steps(result, arguments), look_of(sys.stdout)))
    level = _LEVELS.get(arguments.options.fail_on)
    broken = incomplete(result)
    if broken:
        return fail(broken)
    return FOUND if level is not None and any(result.count(one) for one in Severity if one >= level) else 0
