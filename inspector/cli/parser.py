"""What reads the words of one command: argparse in plain words. Imports nothing heavy: --help has to be quick."""

from __future__ import annotations

import argparse
import re
from difflib import get_close_matches
from pathlib import Path
from typing import NoReturn

from inspector.cli.examples import EXAMPLES
from inspector.cli.help import COMMANDS
from inspector.errors import MeshqcError
from inspector.names import safe

_PLAINER = {
    "the following arguments are required:": "missing:",
    "unrecognized arguments:": "unknown words:",
    "expected one argument": "a value is missing",
    "expected at least one argument": "a value is missing",
    "not allowed with argument": "does not go with",
    "one of the arguments": "one of these is missing:",
    " is required": "",
}
"""What argparse says -> the same in plain words."""

_VALUE = re.compile(r"-(?:\.?\d|[xyz]$)")
"""A word that begins like an option and is a value: a number, a direction such as -1,0,0, or an axis."""


class UsageError(MeshqcError):
    """Words that make no command; the message says what to do instead."""


class Parser(argparse.ArgumentParser):
    """argparse's, but a mistake is told in one sentence by the command, not by an exit from within."""

    def error(self, message: str) -> NoReturn:
        """Plain words instead of argparse's exit with a usage text."""
        plain = message.removeprefix("argument ")
        for words, better in _PLAINER.items():
            plain = plain.replace(words, better)
        raise UsageError(f"{safe(plain)}; see {self.prog} --help{self._nearest(plain)}")

    def _nearest(self, plain: str) -> str:
        """The options that an unknown one may be meant for."""
        words = plain.split()[2:] if plain.startswith("unknown words:") else []
        known = list(self._option_string_actions)
        near = [one for word in words if word.startswith("-") for one in get_close_matches(word, known)]
        return f" (nearest: {', '.join(near)})" if near else ""


def command_parser(command: str, description: str, folder: str | None, epilog: str = "") -> Parser:
    """The words that every command takes. folder: what the folder is to this command; None if it takes none."""
    usage = COMMANDS[command][0] if command else "FOLDER"
    parser = Parser(
        prog=f"meshqc {command}".strip(),
        usage=f"meshqc {usage} [options]",
        description=description,
        epilog="\n".join(["examples:", *(f"  {line}" for line in EXAMPLES[command or "open"]), "", epilog]),
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser._negative_number_matcher = _VALUE  # argparse has no public way; `--from -1,0,0` would lack its value
    if folder is not None:
        metavar = usage.split()[1] if command else usage
        parser.add_argument("folder", metavar=metavar, type=Path, help=folder)
    if command:
        parser.add_argument(
            "--color", choices=("auto", "always", "never"), default="auto", help="auto: on a terminal without NO_COLOR"
        )
    return parser
