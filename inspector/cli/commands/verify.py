"""`meshqc verify`: check that a folder is still what was delivered."""

from __future__ import annotations

import sys

from inspector.cli import options as shared
from inspector.cli.command import Arguments, Command, Group, Operand, Topic


class VerifyOptions(shared.JudgedOptions):
    """Options of `verify`.

    Attributes:
        json: Whether the result is printed as JSON.
    """

    json: bool


def add_options(options: Group) -> None:
    shared.reading(options.group("what you state about the folder (default: as in the receipt)"))
    shared.json(options, "the result")


def run(arguments: Arguments[VerifyOptions]) -> int:
    """Compare the folder with its receipt, check the folder, and print the result.

    Returns:
        Exit code 0 (the folder is what was delivered, without new findings), 1 (the folder differs or has new findings)
        or 2 (a check failed).

    Raises:
        MeshqcError: The folder or its receipt can't be read.
    """
    from inspector.cli.exit_codes import FOUND, fail
    from inspector.cli.inspecting import incomplete, name_rules, progress
    from inspector.cli.streams import ProgressLine, style_of
    from inspector.delivery.audit import audit
    from inspector.report.audit import audit_document, audit_text
    from inspector.report.document import json_text

    with ProgressLine() as line, progress() as checked:

        def digest_done(done: int, of: int) -> None:
            line.show(f"comparing: {done:,} of {of:,}")

        found = audit(arguments.folder, arguments.settings, digest_done, checked)
    name_rules(arguments.settings)
    if arguments.options.json:
        sys.stdout.write(json_text(audit_document(found)))
    else:
        sys.stdout.write(audit_text(found, style_of(sys.stdout, arguments.options.color)))
    if any(one.verdict.failed for one in found.after.inspections):
        return fail(incomplete(found.after) or "")
    return 0 if found.proven else FOUND


COMMAND = Command(
    name="verify",
    topic=Topic.DELIVER,
    summary="Check that a delivery is unchanged.",
    options=VerifyOptions,
    add_options=add_options,
    run=run,
    folder=Operand("OUT", "folder that meshqc fix wrote; it is never changed"),
    notes="""\
exit codes:
  0  the folder is as delivered, and has no new findings
  1  changed, missing or extra files, or new findings
  2  failed (no readable receipt, a failed check), or stopped with Ctrl-C
""",
    examples=("meshqc fix harbour/kelp_broken --output harbour_kelp", "meshqc verify harbour_kelp"),
)
