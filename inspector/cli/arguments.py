"""What the words of the command line say. Imports nothing heavy: --help has to be quick."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from inspector.cli.command_options import PARSERS
from inspector.cli.help import COMMANDS
from inspector.cli.parser import UsageError
from inspector.names import safe
from inspector.rules.find import find_rules
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings


@dataclass(frozen=True, slots=True)
class Arguments:
    """command: "open" (the keyboard face), "reopen" (on the last folder) or a key of COMMANDS. folder: the current one
    for commands that take none. options: what only this command takes."""

    command: str
    folder: Path
    settings: Settings
    options: argparse.Namespace


def read_by(arguments: Arguments) -> Scope:
    """The folders that are only read."""
    return Scope(arguments.folder, arguments.settings.textures)


def parse(words: Sequence[str]) -> Arguments:
    """Words -> arguments. Raises UsageError; SystemExit(0) after --help and --version."""
    if words and words[0] in COMMANDS:
        command, rest = words[0], words[1:]
        if not rest and COMMANDS[command][0].split()[1:2] in (["FOLDER"], ["OUT"]):
            raise UsageError(
                f"{command} needs a folder (a folder that is called {command} is opened with: meshqc ./{command})"
            )
    else:
        command, rest = "open", words
        if not words:
            return Arguments("reopen", Path(), Settings(), argparse.Namespace())
        if not words[0].startswith("-") and not Path(words[0]).exists():
            near = get_close_matches(words[0], COMMANDS)
            meant = f"nearest: {', '.join(near)}" if near else ", ".join(COMMANDS)
            raise UsageError(f"{safe(words[0])}: no such folder, and no such command ({meant})")
    options = PARSERS[command]().parse_args(rest)
    folder = vars(options).get("folder", Path())
    return Arguments(command, folder, _under_rules(_settings(options), folder, options), options)


def _under_rules(settings: Settings, folder: Path, options: argparse.Namespace) -> Settings:
    """The settings under the rules of --rules or of the folder, for commands that judge by them."""
    if "rules" not in options or options.no_rules:
        return settings
    if options.rules is None and find_rules(folder) is None:
        return settings
    from inspector.inspection.folder_rules import load_rules  # imports all checks, whose names it holds the file to

    return settings.under(load_rules(folder, options.rules))


def _settings(options: argparse.Namespace) -> Settings:
    given = vars(options)
    return Settings(
        expected=given.get("frames"),
        size=given.get("size"),
        textures=tuple(given.get("textures") or ()),
        reference=given.get("reference"),
        rate=given.get("fps"),
        uvs_from=given.get("uvs_from"),
    )
