"""Find all commands and parse the command line. No slow module is imported, because `--help` has to be quick."""

from __future__ import annotations

import pkgutil
from collections.abc import Sequence
from difflib import get_close_matches
from functools import cache, partial
from importlib import import_module
from pathlib import Path
from typing import Any, Protocol

from inspector.cli import commands
from inspector.cli.command import Arguments, Command, Topic, UsageError
from inspector.cli.options import JudgedOptions
from inspector.names import safe
from inspector.rules.find import find_rules
from inspector.sequence.discovery.settings import Settings

_ORDER = tuple(Topic)


class Run(Protocol):
    """A function that runs a command line and returns the exit code."""

    def __call__(self) -> int: ...


@cache
def all_commands() -> dict[str, Command[Any]]:
    """Return all commands by name, in the order of the help. The terminal UI has the name ""."""
    found = [
        import_module(f"{commands.__name__}.{one.name}").COMMAND for one in pkgutil.iter_modules(commands.__path__)
    ]
    return {command.name: command for command in sorted(found, key=_position)}


def _position(command: Command[Any]) -> tuple[int, str]:
    return (-1 if command.topic is None else _ORDER.index(command.topic)), command.name


def named_commands() -> dict[str, Command[Any]]:
    """Return all commands except the terminal UI, by name."""
    return {name: command for name, command in all_commands().items() if name}


def parse(words: Sequence[str]) -> tuple[Command[Any], Arguments[Any]]:
    """Parse a command line, and return the command and its arguments.

    Raises:
        UsageError: There is no such command or folder, or an option is wrong.
        MeshqcError: The delivery rules can't be read.
        SystemExit: --help or --version was given; the code is 0.
    """
    named = named_commands()
    if words and words[0] in named:
        command, rest = named[words[0]], words[1:]
        if not rest and command.folder is not None:
            raise UsageError(
                f"{command.name} needs {command.folder.metavar} (to open a folder named {command.name}: "
                f"meshqc ./{command.name})"
            )
    else:
        command, rest = all_commands()[""], words
        if not words:
            return command, Arguments(Path(), Settings(), command.options(reopen=True))
        if not words[0].startswith("-") and not Path(words[0]).exists():
            near = get_close_matches(words[0], named)
            hint = f"nearest: {', '.join(near)}" if near else f"commands: {', '.join(named)}"
            raise UsageError(f"{safe(words[0])}: no such folder or command ({hint})")
    options = command.parse(rest)
    settings = options.settings()
    if isinstance(options, JudgedOptions):
        settings = _with_rules(settings, options)
    return command, Arguments(options.folder, settings, options)


def ready(words: Sequence[str]) -> Run:
    """Parse a command line, and return a function that runs it.

    Raises:
        UsageError, MeshqcError, SystemExit: For the same reasons as `parse`.
    """
    command, arguments = parse(words)
    return partial(command.run, arguments)


def _with_rules(settings: Settings, options: JudgedOptions) -> Settings:
    """Return settings that include the delivery rules.

    If there are no rules, or if `--no-rules` is given, the result is `settings`.
    """
    if options.no_rules or (options.rules is None and find_rules(options.folder) is None):
        return settings
    from inspector.inspection.folder_rules import load_rules  # imports all checks, because rules can change them

    return settings.under(load_rules(options.folder, options.rules))
