"""What reads the words of one command: argparse in plain words. Imports nothing heavy: --help has to be quick."""

from __future__ import annotations

import argparse
from difflib import get_close_matches
from pathlib import Path
from typing import NoReturn

from inspector.cli.examples import EXAMPLES
from inspector.cli.help import COMMANDS
from inspector.errors import MeshqcError
from inspector.names import safe


class UsageError(MeshqcError):
    """Words that make no command; the message says what to do instead."""


class Parser(argparse.ArgumentParser):
    """argparse's, but a mistake is told in one sentence by the command, not by an exit from within."""

    def error(self, message: str) -> NoReturn:
        """Plain words instead of argparse's exit with a usage text."""
        plain = message.removeprefix("argument ")
        plain = plain.replace("the following arguments are required:", "missing:")
        plain = plain.replace("unrecognized arguments:", "unknown words:")
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
    if folder is not None:
        metavar = "FILE" if "FILE" in usage else "FOLDER"
        parser.add_argument("folder", metavar=metavar, type=Path, help=folder)
    if command:
        parser.add_argument(
            "--color", choices=("auto", "always", "never"), default="auto", help="auto: on a terminal without NO_COLOR"
        )
    return parser
