"""The words of each command."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from functools import partial
from pathlib import Path

from inspector import __version__
from inspector.cli import common_options, texture_options, values
from inspector.cli.help import CODES, COMMANDS, COMPARE_CODES, FORMS, PICTURE_CODES, VERIFY_CODES
from inspector.cli.parser import Parser, command_parser
from inspector.units import METRES


class _ShowVersion(argparse.Action):
    """The version, and which path the numbers take. That is looked up only here: it imports NumPy."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> None:
        from inspector import _native

        print(f"meshqc {__version__} ({_native.description()})")
        parser.exit()


def _open() -> Parser:
    commands = "\n".join(f"  meshqc {usage:<24} {what}" for usage, what in COMMANDS.values())
    parser = command_parser(
        "",
        "Inspects, fixes and proves sequences of one mesh file per frame\n"
        "(manta.0001.obj ...). With a folder alone it opens the keyboard face.",
        "a folder with sequences; subfolders are searched",
        f"commands:\n{commands}\n\n{CODES}",
    )
    parser.add_argument("--version", action=_ShowVersion, nargs=0, help="show the version and exit")
    common_options.statements(parser)
    common_options.sources(parser)
    common_options.measuring(parser)
    group = parser.add_argument_group("how the screen behaves")
    group.add_argument("--live", action="store_true", help="watch the folder while an export writes to it")
    group.add_argument("--calm", action="store_true", help="nothing moves by itself: no playing, no coarse pictures")
    return parser


def _check() -> Parser:
    parser = command_parser("check", COMMANDS["check"][1], "a folder with sequences", CODES)
    common_options.statements(parser)
    common_options.verdict(parser)
    common_options.measuring(parser, elsewhere=True)
    return parser


def _merge() -> Parser:
    parser = command_parser("merge", COMMANDS["merge"][1], "the folder that the parts were measured in", CODES)
    parser.add_argument("parts", metavar="PART", type=Path, nargs="+", help="what check --part K/N printed, for each K")
    common_options.statements(parser)
    common_options.verdict(parser)
    return parser


def _watch() -> Parser:
    parser = command_parser("watch", COMMANDS["watch"][1], "a folder that an export writes to", CODES)
    group = parser.add_argument_group("when it ends (else with Ctrl-C), and with what")
    group.add_argument("--until", metavar="N", type=values.count, help="once N frames are there")
    group.add_argument(
        "--quiet-for", metavar="SECONDS", type=values.positive, help="once nothing has changed for so long"
    )
    group.add_argument(
        "--stop-on-error", action="store_true", help="at the first error that stays, with exit code 1, for a queue"
    )
    common_options.fail_on(parser)
    common_options.statements(parser)
    return parser


def _fix() -> Parser:
    parser = command_parser("fix", COMMANDS["fix"][1], "the folder to correct; it is only read", CODES)
    parser.add_argument("--output", metavar="OUT", type=Path, help="the corrected folder; it must not exist yet")
    group = parser.add_argument_group("which fixes (without any of these: every lossless fix that answers a finding)")
    group.add_argument(
        "--with",
        dest="add",
        metavar="FIX[:key=value,...]",
        type=values.fix,
        action="append",
        default=[],
        help="add one",
    )
    group.add_argument("--all", action="store_true", help="all that answer a finding, also those that change data")
    group.add_argument("--without", metavar="FIX", action="append", default=[], help="leave one out")
    group.add_argument(
        "--only", metavar="FIX[:key=value,...]", type=values.fix, action="extend", nargs="+", help="these and no other"
    )
    group.add_argument("--plan", metavar="PLAN.json", type=Path, help="those of a saved plan")
    common_options.statements(parser)
    common_options.sources(parser)
    common_options.measuring(parser)
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
    common_options.report(parser)
    return parser


def _verify() -> Parser:
    parser = command_parser(
        "verify", COMMANDS["verify"][1], "a folder that meshqc fix wrote; it is only read", VERIFY_CODES
    )
    common_options.reading(parser.add_argument_group("what you state about the folder (else as the receipt has it)"))
    parser.add_argument("--json", action="store_true", help="the proof as one JSON document")
    return parser


def _texture(command: str) -> Parser:
    """`fit`, `template` or `picture`: what goes with all of them, then what is its own."""
    parser = command_parser(command, COMMANDS[command][1], "a folder with sequences; it is only read", PICTURE_CODES)
    texture_options.OWN[command](parser)
    texture_options.view(parser)
    common_options.reading(parser.add_argument_group("what you state about the folder"))
    common_options.measuring(parser)
    return parser


def _rules() -> Parser:
    parser = command_parser("rules", COMMANDS["rules"][1], None)
    parser.add_argument("--from", dest="source", metavar="FOLDER", type=values.folder, help="as this good sequence is")
    return parser


def _demo() -> Parser:
    return command_parser("demo", COMMANDS["demo"][1], "where the three demo folders are written")


def _checks() -> Parser:
    parser = command_parser("checks", COMMANDS["checks"][1], None)
    parser.add_argument("--json", action="store_true", help="checks and fixes with all their words, as JSON")
    return parser


def _explain() -> Parser:
    parser = command_parser("explain", COMMANDS["explain"][1], None)
    parser.add_argument("id", metavar="ID", help="of a check or a fix, such as uv-mismatch or scale")
    parser.add_argument("--json", action="store_true", help="the same as JSON")
    return parser


def _compare() -> Parser:
    parser = command_parser("compare", COMMANDS["compare"][1], "a folder with sequences", COMPARE_CODES)
    group = parser.add_argument_group("with what each frame is compared")
    way = group.add_mutually_exclusive_group(required=True)
    way.add_argument("--against", metavar="FRAME", type=values.frame, help="this frame of its sequence")
    way.add_argument("--corrected", metavar="OUT", type=Path, help="what fix made of it in this folder")
    group.add_argument("--frame", metavar="FRAME", type=values.frame, action="append", help="only these frames")
    return parser


def _unpack() -> Parser:
    parser = command_parser("unpack", COMMANDS["unpack"][1], "the file (.abc, .usd, .usda, .usdc, .usdz)", CODES)
    parser.add_argument(
        "output", metavar="OUT", type=Path, nargs="?", help="a new folder; without it: what is in the file"
    )
    group = parser.add_argument_group("what is unpacked")
    group.add_argument(
        "--mesh",
        metavar="PATTERN",
        action="append",
        default=[],
        help="only meshes at and below this path in the file, or that fit a pattern such as '*/kelp*'; repeatable",
    )
    group.add_argument("--split", action="store_true", help="a sequence for each mesh; without it they are one")
    group.add_argument("--uv-set", metavar="NAME", help="this UV set instead of the main one")
    group.add_argument("--frames", metavar="1-240", type=values.frame_range, help="only these frames")
    group.add_argument("--step", metavar="N", type=values.count, default=1, help="only every N-th frame")
    group.add_argument("--sub-frames", action="store_true", help="also the samples between whole frames")
    group.add_argument("--blend", action="store_true", help="blend frames that are between two samples")
    group.add_argument(
        "--fps", metavar="RATE", type=values.rate, help="frames per second, where the file says otherwise"
    )
    group = parser.add_argument_group("one constant for all frames")
    group.add_argument(
        "--size", metavar="UNITS", type=values.positive, help="longest side that you expect; a unit mix-up is refused"
    )
    group.add_argument("--scale-to", metavar="UNITS", type=values.positive, help="scale the longest side to this")
    group.add_argument("--unit", choices=tuple(METRES), help="scale to this unit by what one unit of the file is")
    group.add_argument("--from-unit", choices=tuple(METRES), help="what one unit of the file is")
    group.add_argument("--from-up", choices=("y", "z"), help="the axis that points up in the file")
    group.add_argument("--keep-axis", action="store_true", help="leave z up where it is; without it y becomes up")
    common_options.verdict(parser)
    return parser


PARSERS: dict[str, Callable[[], Parser]] = {
    "open": _open,
    "check": _check,
    "merge": _merge,
    "watch": _watch,
    "fix": _fix,
    "compare": _compare,
    "verify": _verify,
    **{command: partial(_texture, command) for command in texture_options.OWN},
    "rules": _rules,
    "unpack": _unpack,
    "demo": _demo,
    "checks": _checks,
    "explain": _explain,
}
"""Command ("open": the keyboard face) -> what makes its parser."""
