"""`meshqc FOLDER`: open a folder in the terminal UI."""

from __future__ import annotations

import argparse
from itertools import groupby

from inspector import __version__
from inspector.cli import options as shared
from inspector.cli.command import EXIT_CODES, Arguments, Command, Group, Operand


class OpenOptions(shared.JudgedOptions):
    """Options of the terminal UI.

    Attributes:
        live: Whether the folder is watched while an export writes to it.
        calm: If true, nothing on the screen moves by itself.
        reopen: Whether to open the last folder again.
    """

    live: bool = False
    calm: bool = False
    reopen: bool = False


class _ShowVersion(argparse.Action):
    """Print the version, and whether the native core is used.

    The native core is imported only if the option is given, because it imports NumPy.
    """

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from inspector import _native

        print(f"meshqc {__version__} ({_native.description()})")
        parser.exit()


def add_options(options: Group) -> None:
    options.add("--version", action=_ShowVersion, nargs=0, help="show the version and exit")
    shared.statements(options)
    shared.sources(options)
    shared.measuring(options)
    group = options.group("how the screen behaves")
    group.add("--live", action="store_true", help="watch the folder while an export writes to it")
    group.add(
        "--calm",
        action="store_true",
        help="no automatic motion: no playback, and no coarse pictures while the view moves",
    )


def notes() -> str:
    """List all commands by topic, and the exit codes."""
    from inspector.cli.registry import named_commands  # the registry imports this module

    lines = ["commands:"]
    for topic, commands in groupby(named_commands().values(), lambda command: command.topic):
        lines += ["", f"  {topic.value}:"] if topic else []
        lines += [f"    {command.usage_line:<35} {command.summary}" for command in commands]
    codes = [
        "These are the exit codes of meshqc check. The terminal UI ends with 0, or with",
        "2 if it failed.",
        "meshqc COMMAND --help lists the exit codes of that command.",
    ]
    return "\n".join([*lines, "", EXIT_CODES, *codes])


def run(arguments: Arguments[OpenOptions]) -> int:
    """Open the terminal UI, and return its exit code.

    Raises:
        MeshqcError: No folder is given, and no folder has been opened before.
    """
    from inspector.tui import run as terminal_ui

    options = arguments.options
    if options.reopen:
        return terminal_ui.reopen()
    return terminal_ui.run(arguments.folder, arguments.settings, calm=options.calm, live=options.live)


COMMAND = Command(
    name="",
    topic=None,
    summary="Inspect a folder in the terminal UI.",
    description="meshqc inspects, corrects and verifies mesh sequences with one file per frame\n"
    "(manta.0001.obj ...). Given a folder, it opens the terminal UI; without\n"
    "arguments, it opens the last folder again.",
    options=OpenOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder with sequences; subfolders are searched"),
    notes=notes,
    examples=(
        "meshqc demo harbour",
        "meshqc harbour/manta_broken",
        "meshqc check harbour --frames 1-24",
        "meshqc fix harbour/kelp_broken --output harbour_kelp --all --dry-run",
        'meshqc fit harbour/manta --caption "HARBOUR AQUARIUM"',
        "meshqc picture harbour/manta --sheet 12 --output proof.png",
    ),
)
