"""Define commands, and parse their options with argparse, whose messages are replaced by plainer messages.

This module and `inspector.cli.commands` import neither NumPy nor the terminal UI, so that `--help` is quick.
"""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from enum import Enum
from fractions import Fraction
from pathlib import Path
from typing import Any, Generic, NoReturn, TypeVar

from inspector.cli import values
from inspector.errors import MeshqcError
from inspector.names import safe
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.discovery.settings import Settings

_PLAINER = {
    "the following arguments are required:": "missing:",
    "unrecognized arguments:": "unknown option or argument:",
    "expected one argument": "a value is missing",
    "expected at least one argument": "a value is missing",
    "not allowed with argument": "can't be combined with",
    "one of the arguments": "missing: one of",
    " is required": "",
}
"""Words in the messages of argparse -> plainer words."""

_VALUE = re.compile(r"-(?:\.?\d|[xyz]$)")
"""Pattern for the beginning of a value that looks like an option: a negative number, a direction such as `-1,0,0`, or
an axis such as `-y`."""


class UsageError(MeshqcError):
    """The command line is wrong. The message states what to change."""


class Group:
    """A group of options under one heading of the help.

    Args:
        container: The argparse container to which the options are added.
        names: The list to which the names of the options are added, for suggestions if an option is mistyped.
    """

    def __init__(self, container: argparse._ActionsContainer, names: list[str]) -> None:
        self._container = container
        self._names = names

    def add(self, *names: str, **how: Any) -> None:
        """Add an option or a positional argument, as `argparse.ArgumentParser.add_argument` does."""
        self._names += [name for name in names if name.startswith("-")]
        self._container.add_argument(*names, **how)

    def group(self, heading: str) -> Group:
        return Group(self._container.add_argument_group(heading), self._names)

    def exclusive(self, required: bool = False) -> Group:
        """Add a group of mutually exclusive options. If `required` is true, one of them must be given."""
        return Group(self._container.add_mutually_exclusive_group(required=required), self._names)


class _Parser(argparse.ArgumentParser):
    """A parser that raises UsageError for a mistake, instead of ending the process."""

    option_names: list[str]

    def error(self, message: str) -> NoReturn:
        plain = message.removeprefix("argument ")
        for theirs, ours in _PLAINER.items():
            plain = plain.replace(theirs, ours)
        unknown = plain.removeprefix(f"{_PLAINER['unrecognized arguments:']} ")
        words = unknown.split() if unknown != plain else []
        near = [name for word in words if word[:1] == "-" for name in get_close_matches(word, self.option_names)]
        hint = f" (nearest: {', '.join(near)})" if near else ""
        raise UsageError(f"{safe(plain)}{hint}; see {self.prog} --help")


class Options(argparse.Namespace):
    """The options of a command, with defaults for options that exist only in some commands.

    Except for `folder`, `color` and `no_cache`, an option that isn't given is None.

    Attributes:
        folder: The folder or file to work on; the current folder if the command takes neither.
        color: When colours are used: "auto", "always" or "never".
        frames: First and last frame number of the range that should exist.
        size: Longest side of the object in the reference frame, in scene units.
        textures: Additional folders that may be read.
        reference: Number of the reference frame.
        fps: Frames per second.
        uvs_from: Mesh file whose UVs a fix may copy.
        invent_at_most: Maximum number of frames that a fix may add to a sequence.
        no_cache: Whether every frame is measured from scratch, and no measurements are saved.
        cluster: Address of a Dask scheduler; None to measure on this machine.
    """

    folder: Path = Path()
    color: str = "auto"
    frames: tuple[Fraction, Fraction] | None = None
    size: float | None = None
    textures: list[Path] | None = None
    reference: Fraction | None = None
    fps: Fraction | None = None
    uvs_from: Path | None = None
    invent_at_most: int | None = None
    no_cache: bool = False
    cluster: str | None = None

    def settings(self) -> Settings:
        return Settings(
            expected=self.frames,
            size=self.size,
            textures=tuple(self.textures or ()),
            reference=self.reference,
            rate=self.fps,
            uvs_from=self.uvs_from,
            invent_at_most=self.invent_at_most,
        )


OptionsT_co = TypeVar("OptionsT_co", bound=Options, covariant=True)
OptionsT = TypeVar("OptionsT", bound=Options)


@dataclass(frozen=True, slots=True)
class Arguments(Generic[OptionsT_co]):
    """A parsed command line.

    Attributes:
        folder: The folder or file to work on.
        settings: The user's statements about the folder, and the delivery rules that apply.
        options: All options of the command.
    """

    folder: Path
    settings: Settings
    options: OptionsT_co

    @property
    def scope(self) -> Scope:
        """The folders that may be read. They are never written to."""
        return Scope(self.folder, self.settings.textures)


class Topic(Enum):
    """A heading under which `meshqc --help` lists commands."""

    INSPECT = "inspect"
    DELIVER = "correct and deliver"
    TEXTURE = "texture and pictures"
    REFERENCE = "rules and reference"


@dataclass(frozen=True, slots=True)
class Operand:
    """The folder or file that a command works on.

    Attributes:
        metavar: Name of the operand in the usage line.
        help: Description of the operand in the help.
    """

    metavar: str
    help: str


@dataclass(frozen=True)
class Command(Generic[OptionsT]):
    """A command, defined as COMMAND in a module of `inspector.cli.commands`.

    Attributes:
        name: The word after `meshqc`; "" for the terminal UI.
        topic: The heading under which `meshqc --help` lists the command; None for an unlisted command.
        summary: The purpose of the command, in one sentence.
        options: Class of the parsed options.
        add_options: Function that adds the options to a parser.
        run: Function that does the work and returns the exit code. It imports slow modules only when it is called.
        examples: Command lines that work in this order, in the folder in which `meshqc demo harbour` was run.
        folder: The folder or file that the command works on; None if it takes neither.
        usage: The words after the folder or file in the usage line.
        notes: Text to show below the examples, or a function that returns this text.
        description: The first paragraph of the help; "" to use the summary.
    """

    name: str
    topic: Topic | None
    summary: str
    options: type[OptionsT]
    add_options: Callable[[Group], None]
    run: Callable[[Arguments[OptionsT]], int]
    examples: tuple[str, ...]
    folder: Operand | None = None
    usage: str = ""
    notes: str | Callable[[], str] = ""
    description: str = ""

    @property
    def usage_line(self) -> str:
        """The command line without options, for the help."""
        folder = "" if self.folder is None else self.folder.metavar
        return " ".join(filter(None, ["meshqc", self.name, folder, self.usage]))

    def parse(self, words: Sequence[str]) -> OptionsT:
        """Parse the words after the command's name.

        Raises:
            UsageError: The words are not a valid command line.
            SystemExit: --help or --version was given; the code is 0.
        """
        return self._parser().parse_args(_joined(words), self.options())

    def help_text(self) -> str:
        return self._parser().format_help()

    def _parser(self) -> _Parser:
        notes = self.notes if isinstance(self.notes, str) else self.notes()
        parser = _Parser(
            prog=f"meshqc {self.name}".strip(),
            usage=f"{self.usage_line} [options]",
            description=self.description or self.summary,
            epilog="\n".join(["examples:", *(f"  {line}" for line in self.examples), "", notes]),
            formatter_class=argparse.RawDescriptionHelpFormatter,
            allow_abbrev=False,
        )
        parser.option_names = ["--help"]
        self.fill(parser, parser.option_names)
        return parser

    def fill(self, parser: argparse.ArgumentParser, names: list[str]) -> None:
        """Add the command's folder and options to a parser, and the options' names to a list."""
        group = Group(parser, names)
        if self.folder is not None:
            group.add("folder", metavar=self.folder.metavar, type=values.path, help=self.folder.help)
        group.add(
            "--color",
            choices=("auto", "always", "never"),
            default="auto",
            help="auto: use colours on a terminal, unless NO_COLOR is set",
        )
        self.add_options(group)


def _joined(words: Sequence[str]) -> list[str]:
    """Join an option and a value that looks like an option: `--from -1,0,0` becomes `--from=-1,0,0`."""
    joined: list[str] = []
    for word in words:
        if joined and joined[-1].startswith("--") and "=" not in joined[-1] and _VALUE.match(word):
            joined[-1] += f"={word}"
        else:
            joined.append(word)
    return joined


EXIT_CODES = """\
exit codes:
  0  no finding reaches the --fail-on severity (default: error)
  1  at least one finding reaches that severity
  2  failed (invalid options, an unreadable folder, a failed check), or
     stopped with Ctrl-C
"""

PRINTED_EXIT_CODES = """\
exit codes:
  0  done
  2  failed (invalid options), or stopped with Ctrl-C
"""

PICTURE_EXIT_CODES = """\
exit codes:
  0  done
  2  failed (invalid options, an unreadable folder, missing UVs, an output file
     that already exists), or stopped with Ctrl-C
"""
