"""`meshqc verify`: prove a delivered folder later."""

from __future__ import annotations

import sys

from inspector.cli.arguments import Arguments
from inspector.cli.exit_codes import FOUND, fail
from inspector.cli.inspecting import incomplete, progress
from inspector.cli.streams import ProgressLine, look_of
from inspector.delivery.audit import audit
from inspector.report.audit import audit_document, audit_text
from inspector.report.json import json_text


def run(arguments: Arguments) -> int:
    """Exit code 0 (it is what was delivered), 1 (it is not) or 2 (no receipt, or a check broke)."""
    with ProgressLine() as line, progress() as checked:

        def digest_done(done: int, of: int) -> None:
            line.show(f"comparing: {done:,} of {of:,}")

        found = audit(arguments.folder, arguments.settings, digest_done, checked)
    if arguments.options.json:
        sys.stdout.write(json_text(audit_document(found)))
    else:
        sys.stdout.write(audit_text(found, look_of(sys.stdout, arguments.options.color)))
    if any(one.verdict.failed for one in found.after.inspections):
        return fail(incomplete(found.after) or "")
    return 0 if found.proven else FOUND
