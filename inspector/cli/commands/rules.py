"""`meshqc rules`: print delivery rules to start from."""

from __future__ import annotations

import sys
from pathlib import Path

from inspector.cli import values
from inspector.cli.command import Arguments, Command, Group, Options, Topic


class RulesOptions(Options):
    """Options of `rules`.

    Attributes:
        source: Folder with the good sequence from which rules are derived; None to print all rules as comments.
    """

    source: Path | None


def add_options(options: Group) -> None:
    options.add(
        "--from",
        dest="source",
        metavar="FOLDER",
        type=values.folder,
        help="derive the rules from the good sequence in this folder",
    )


def run(arguments: Arguments[RulesOptions]) -> int:
    """Print the rules that a good sequence satisfies or, without `--from`, all rules as comments.

    Returns:
        Exit code 0, or 2 if no rules can be derived, because there isn't exactly one sequence, the sequence has errors,
        or a check failed.
    """
    from inspector.checks.base.finding import Severity
    from inspector.cli.exit_codes import fail
    from inspector.cli.inspecting import incomplete, progress
    from inspector.cli.quoting import quoted
    from inspector.inspection.inspection import inspect_folder
    from inspector.names import counted
    from inspector.report.rules_text import derived_text, start_text

    source = arguments.options.source
    if source is None:
        sys.stdout.write(start_text())
        return 0
    with progress() as show:
        result = inspect_folder(source, arguments.settings, show)
    if broken := incomplete(result):
        return fail(broken)
    if len(result.inspections) > 1:
        return fail(f"{quoted(source)} contains {len(result.inspections)} sequences; name a folder with one sequence")
    if errors := result.count(Severity.ERROR):
        return fail(f"{quoted(source)} has {counted(errors, 'error')}; for details: meshqc check {quoted(source)}")
    sys.stdout.write(derived_text(result.inspections[0]))
    return 0


COMMAND = Command(
    name="rules",
    topic=Topic.REFERENCE,
    summary="Print delivery rules to start from.",
    options=RulesOptions,
    add_options=add_options,
    run=run,
    usage="[--from FOLDER]",
    notes="""\
exit codes:
  0  done
  2  failed (invalid options; with --from: no sequence, several sequences, a
     sequence with errors), or stopped with Ctrl-C
""",
    examples=("meshqc rules > meshqc.toml", "meshqc rules --from harbour/manta > meshqc.toml"),
)
