"""The words of the command line. Imports nothing heavy: --help has to be quick."""

from __future__ import annotations

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import partial
from pathlib import Path
from typing import NoReturn

from inspector import __version__
from inspector.cli import texture_words, values
from inspector.cli.examples import EXAMPLES
from inspector.cli.help import CODES, COMMANDS, FORMATS, FORMS, PICTURE_CODES, VERIFY_CODES
from inspector.errors import MeshqcError
from inspector.names import safe
from inspector.rules.find import FILE_NAME, find_rules
from inspector.sequence.scope import Scope
from inspector.sequence.settings import Settings
from inspector.units import METRES


class UsageError(MeshqcError):
    """Words that make no command; the message says what to do instead."""


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
            raise UsageError(f"{safe(words[0])}: no such folder, and no such command ({', '.join(COMMANDS)})")
    options = _PARSERS[command]().parse_args(rest)
    folder = vars(options).get("folder", Path())
    return Arguments(command, folder, _under_rules(_settings(options), folder, options), options)


def _under_rules(settings: Settings, folder: Path, options: argparse.Namespace) -> Settings:
    """The settings under the rules of --rules or of the folder, for commands that judge by them."""
    if "rules" not in options or options.no_rules:
        return settings
    if options.rules is None and find_rules(folder) is None:
        return settings
    from inspector.checks.base.rules import load_rules  # imports all checks, whose names it holds the file to

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


class _Parser(argparse.ArgumentParser):
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


def _parser(command: str, description: str, folder: str | None, epilog: str = "") -> _Parser:
    usage = COMMANDS[command][0] if command else "FOLDER"
    parser = _Parser(
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


def _statements(parser: _Parser) -> None:
    """What the user states about the folder."""
    group = parser.add_argument_group("what you state about the folder")
    group.add_argument("--frames", metavar="1-240", type=values.frame_range, help="the frames that should be there")
    group.add_argument(
        "--size", metavar="UNITS", type=values.positive, help="longest side of the object in the reference frame"
    )
    _reading(group)


def _reading(group: argparse._ArgumentGroup) -> None:
    group.add_argument(
        "--textures", metavar="DIR", type=values.folder, action="append", help="a further folder that may be read"
    )
    group.add_argument("--reference", metavar="FRAME", type=values.frame, help="hold the other frames against this one")
    group.add_argument(
        "--rules",
        metavar="FILE",
        type=values.file,
        help=f"delivery rules (else {FILE_NAME} in the folder or above)",
    )
    group.add_argument("--no-rules", action="store_true", help="hold it to no delivery rules")


def _sources(parser: _Parser) -> None:
    """What the user adds for a correction."""
    group = parser.add_argument_group("what you add")
    group.add_argument("--uvs-from", metavar="FILE", type=values.file, help="a mesh file with the same faces and UVs")
    group.add_argument("--fps", metavar="RATE", type=values.rate, help="frames a second, for the hand-off note")


def _measuring(parser: _Parser, elsewhere: bool = False) -> None:
    """How frames are measured; none of it changes a verdict."""
    group = parser.add_argument_group("how frames are measured (never changes a verdict)")
    group.add_argument("--no-cache", action="store_true", help="measure every frame anew and keep nothing")
    if elsewhere:
        group.add_argument("--cluster", metavar="ADDRESS", help="on the workers of a Dask scheduler")
        group.add_argument(
            "--part",
            metavar="K/N",
            type=values.part,
            help="only the K-th of N parts; prints what meshqc merge takes, for a render queue",
        )


def _open_parser() -> _Parser:
    commands = "\n".join(f"  meshqc {usage:<24} {what}" for usage, what in COMMANDS.values())
    parser = _parser(
        "",
        "Inspects, fixes and proves sequences of one mesh file per frame\n"
        "(manta.0001.obj ...). With a folder alone it opens the keyboard face.",
        "a folder with sequences; subfolders are searched",
        f"commands:\n{commands}\n\n{CODES}",
    )
    parser.add_argument("--version", action="version", version=f"meshqc {__version__}")
    _statements(parser)
    _sources(parser)
    _measuring(parser)
    group = parser.add_argument_group("how the screen behaves")
    group.add_argument("--live", action="store_true", help="watch the folder while an export writes to it")
    group.add_argument("--calm", action="store_true", help="nothing moves by itself: no playing, no coarse pictures")
    return parser


def _check_parser() -> _Parser:
    parser = _parser("check", COMMANDS["check"][1], "a folder with sequences", CODES)
    _statements(parser)
    _verdict(parser)
    _measuring(parser, elsewhere=True)
    return parser


def _merge_parser() -> _Parser:
    parser = _parser("merge", COMMANDS["merge"][1], "the folder that the parts were measured in", CODES)
    parser.add_argument("parts", metavar="PART", type=Path, nargs="+", help="what check --part K/N printed, for each K")
    _statements(parser)
    _verdict(parser)
    return parser


def _verdict(parser: _Parser) -> None:
    parser.add_argument(
        "--format",
        choices=FORMATS,
        default="text",
        help="; ".join(f"{word}: {what}" for word, what in FORMATS.items()),
    )
    parser.add_argument("--json", dest="format", action="store_const", const="json", help="short for --format json")
    _report(parser)
    _fail_on(parser)


def _report(parser: _Parser) -> None:
    parser.add_argument(
        "--report", metavar="PAGE.html", type=Path, help="write a page with plots and pictures as well, in one new file"
    )


def _fail_on(parser: _Parser) -> None:
    parser.add_argument(
        "--fail-on",
        choices=("error", "warning", "info", "never"),
        default="error",
        help="the severity from which the exit code is 1 (default: error)",
    )


def _watch_parser() -> _Parser:
    parser = _parser("watch", COMMANDS["watch"][1], "a folder that an export writes to", CODES)
    group = parser.add_argument_group("when it ends (else with Ctrl-C), and with what")
    group.add_argument("--until", metavar="N", type=values.count, help="once N frames are there")
    group.add_argument(
        "--quiet-for", metavar="SECONDS", type=values.positive, help="once nothing has changed for so long"
    )
    group.add_argument(
        "--stop-on-error", action="store_true", help="at the first error that stays, with exit code 1, for a queue"
    )
    _fail_on(parser)
    _statements(parser)
    return parser


def _fix_parser() -> _Parser:
    parser = _parser("fix", COMMANDS["fix"][1], "the folder to correct; it is only read", CODES)
    parser.add_argument("--to", metavar="OUT", type=Path, help="the corrected folder; it must not exist yet")
    group = parser.add_argument_group("which fixes (without any of these: every exact fix that answers a finding)")
    group.add_argument(
        "--with",
        dest="add",
        metavar="FIX[:key=value,...]",
        type=values.fix,
        action="append",
        default=[],
        help="add one",
    )
    group.add_argument("--every", action="store_true", help="all that answer a finding, the inventing ones as well")
    group.add_argument("--without", metavar="FIX", action="append", default=[], help="leave one out")
    group.add_argument(
        "--only", metavar="FIX[:key=value,...]", type=values.fix, action="extend", nargs="+", help="these and no other"
    )
    group.add_argument("--plan", metavar="PLAN.json", type=Path, help="those of a saved plan")
    _statements(parser)
    _sources(parser)
    _measuring(parser)
    group = parser.add_argument_group("in which form (without --as: OBJ frames, written if there is something to fix)")
    group.add_argument(
        "--as",
        dest="form",
        choices=FORMS,
        help="; ".join(f"{word}: {what}" for word, what in FORMS.items()),
    )
    group.add_argument("--unit", choices=tuple(METRES), help="what one unit of the scene is, for usd and glb")
    parser.add_argument("--dry-run", action="store_true", help="show the plan and write nothing")
    parser.add_argument("--save", metavar="PLAN.json", type=Path, help="keep the plan for the next export")
    parser.add_argument("--json", action="store_true", help="the plan and the outcome as one JSON document")
    _report(parser)
    return parser


def _verify_parser() -> _Parser:
    parser = _parser("verify", COMMANDS["verify"][1], "a folder that meshqc fix wrote; it is only read", VERIFY_CODES)
    _reading(parser.add_argument_group("what you state about the folder (else as the receipt has it)"))
    parser.add_argument("--json", action="store_true", help="the proof as one JSON document")
    return parser


def _texture_parser(command: str) -> _Parser:
    """`fit`, `template` or `picture`: what goes with all of them, then what is its own."""
    parser = _parser(command, COMMANDS[command][1], "a folder with sequences; it is only read", PICTURE_CODES)
    texture_words.OWN[command](parser)
    texture_words.view(parser)
    _reading(parser.add_argument_group("what you state about the folder"))
    _measuring(parser)
    return parser


def _rules_parser() -> _Parser:
    parser = _parser("rules", COMMANDS["rules"][1], None)
    parser.add_argument("--from", dest="source", metavar="FOLDER", type=values.folder, help="as this good sequence is")
    return parser


def _demo_parser() -> _Parser:
    return _parser("demo", COMMANDS["demo"][1], "where the three demo folders are written")


def _checks_parser() -> _Parser:
    parser = _parser("checks", COMMANDS["checks"][1], None)
    parser.add_argument("--json", action="store_true", help="checks and fixes with all their words, as JSON")
    return parser


def _explain_parser() -> _Parser:
    parser = _parser("explain", COMMANDS["explain"][1], None)
    parser.add_argument("id", metavar="ID", help="of a check or a fix, such as uv-mismatch or scale")
    parser.add_argument("--json", action="store_true", help="the same as JSON")
    return parser


def _unpack_parser() -> _Parser:
    parser = _parser("unpack", COMMANDS["unpack"][1], "the file (.usd, .usda, .usdc, .usdz)", CODES)
    parser.add_argument("to", metavar="OUT", type=Path, nargs="?", help="a new folder; without it: what is in the file")
    group = parser.add_argument_group("what is unpacked")
    group.add_argument(
        "--mesh", metavar="PATH", action="append", default=[], help="only the meshes at and below this path in the file"
    )
    group.add_argument("--frames", metavar="1-240", type=values.frame_range, help="only these frames")
    group.add_argument("--step", metavar="N", type=values.count, default=1, help="only every N-th frame")
    group = parser.add_argument_group("one constant for all frames")
    group.add_argument("--unit", choices=tuple(METRES), help="scale to this unit by what the file says its own is")
    group.add_argument("--keep-axis", action="store_true", help="leave z up where it is; without it y becomes up")
    _verdict(parser)
    return parser


_PARSERS: dict[str, Callable[[], _Parser]] = {
    "open": _open_parser,
    "check": _check_parser,
    "merge": _merge_parser,
    "watch": _watch_parser,
    "fix": _fix_parser,
    "verify": _verify_parser,
    **{command: partial(_texture_parser, command) for command in texture_words.OWN},
    "rules": _rules_parser,
    "unpack": _unpack_parser,
    "demo": _demo_parser,
    "checks": _checks_parser,
    "explain": _explain_parser,
}
