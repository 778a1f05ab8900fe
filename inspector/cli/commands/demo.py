"""`meshqc demo`: write the demo data."""

from __future__ import annotations

import sys

from inspector.cli.command import Arguments, Command, Group, Operand, Options, Topic


def add_options(_: Group) -> None:
    """`demo` has no options of its own."""


def run(arguments: Arguments[Options]) -> int:
    """Write the demo data, and return exit code 0.

    Raises:
        MeshqcError: A file of the demo already exists with different content, or can't be written.
    """
    from inspector.cli.quoting import quoted
    from inspector.demo import write_demo

    files = write_demo(arguments.folder)
    folder = quoted(arguments.folder)
    sys.stdout.write(f"{len(files)} files written to {folder}\nnext: meshqc {folder}\n")
    return 0


COMMAND = Command(
    name="demo",
    topic=Topic.REFERENCE,
    summary="Write four small demo sequences.",
    options=Options,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder to write the demo sequences to"),
    notes="""\
exit codes:
  0  done
  2  failed (invalid options, or a file of the demo already exists with
     different content), or stopped with Ctrl-C
""",
    examples=("meshqc demo harbour",),
)
