"""`meshqc completion`: print a script that makes a shell complete commands and options."""

from __future__ import annotations

import sys

from inspector.cli.command import PRINTED_EXIT_CODES, Arguments, Command, Group, Options, Topic

SHELLS = ("bash", "zsh", "fish")
_FOLDERS = ("FOLDER", "DIR", "OUT", "EXPORT_FOLDER")
_FILES = ("FILE", "PLAN", "PAGE", "PART")
"""Beginnings of the metavars that stand for files."""


class CompletionOptions(Options):
    """Options of `completion`.

    Attributes:
        shell: One of SHELLS.
    """

    shell: str


def add_options(options: Group) -> None:
    options.add("shell", choices=SHELLS, help="shell to print the script for")


def run(arguments: Arguments[CompletionOptions]) -> int:
    """Print the completion script for the shell, and return exit code 0."""
    from argparse import ArgumentParser

    import shtab

    from inspector.cli.registry import named_commands

    whole = ArgumentParser(prog="meshqc", description="Check animated geometry, one mesh file per frame.")
    below = whole.add_subparsers()
    for command in named_commands().values():
        parser = below.add_parser(command.name, help=command.summary, description=command.summary)
        command.fill(parser, [])
        for action in parser._actions:  # argparse has no other list of them
            if str(action.metavar).startswith(_FOLDERS):
                action.complete = shtab.DIRECTORY  # type: ignore[attr-defined]
            elif str(action.metavar).startswith(_FILES):
                action.complete = shtab.FILE  # type: ignore[attr-defined]
    sys.stdout.write(shtab.complete(whole, arguments.options.shell) + "\n")
    return 0


COMMAND = Command(
    name="completion",
    topic=Topic.REFERENCE,
    summary="Print a shell completion script.",
    options=CompletionOptions,
    add_options=add_options,
    run=run,
    usage="SHELL",
    examples=("meshqc completion bash > meshqc.bash",),
    notes=f"""\
{PRINTED_EXIT_CODES}
to install:
  bash: add the line `. <(meshqc completion bash)` to ~/.bashrc
  zsh:  run `meshqc completion zsh > _meshqc` in a folder that $fpath lists
  fish: run `meshqc completion fish > ~/.config/fish/completions/meshqc.fish`
""",
)
