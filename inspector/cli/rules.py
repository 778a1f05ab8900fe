"""`meshqc rules`: a rules file to start from, on stdout."""

from __future__ import annotations

import sys

from inspector.checks.base.finding import Severity
from inspector.cli.arguments import Arguments
from inspector.cli.exit_codes import fail
from inspector.cli.inspecting import incomplete, progress
from inspector.cli.next_steps import quoted
from inspector.inspection.inspection import inspect_folder
from inspector.report.rules_text import derived_text, start_text


def run(arguments: Arguments) -> int:
    """Exit code 0, or 2 where no rules can be derived: from no sequence, several, or one that isn't good."""
    source = arguments.options.source
    if source is None:
        sys.stdout.write(start_text())
        return 0
    with progress() as show:
        result = inspect_folder(source, arguments.settings, show)
    if broken := incomplete(result):
        return fail(broken)
    if len(result.inspections) > 1:
        return fail(f"{quoted(source)} holds {len(result.inspections)} sequences; name the folder of one")
    if errors := result.count(Severity.ERROR):
        return fail(f"{quoted(source)} is no good example, it has {errors} errors: meshqc check {quoted(source)}")
    sys.stdout.write(derived_text(result.inspections[0]))
    return 0
