"""The words that several commands take."""

from __future__ import annotations

import argparse
from pathlib import Path

from inspector.cli import values
from inspector.cli.help import FORMATS
from inspector.cli.parser import Parser
from inspector.rules.find import FILE_NAME


def statements(parser: Parser) -> None:
    """What the user states about the folder."""
    group = parser.add_argument_group("what you state about the folder")
    group.add_argument("--frames", metavar="1-240", type=values.frame_range, help="the frames that should be there")
    group.add_argument(
        "--size", metavar="UNITS", type=values.positive, help="longest side of the object in the reference frame"
    )
    reading(group)


def reading(group: argparse._ArgumentGroup) -> None:
    """What is read beside the folder, and what its frames are held against."""
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


def sources(parser: Parser) -> None:
    """What the user adds for a correction."""
    group = parser.add_argument_group("what you add")
    group.add_argument("--uvs-from", metavar="FILE", type=values.file, help="a mesh file with the same faces and UVs")
    group.add_argument("--fps", metavar="RATE", type=values.rate, help="frames a second, for the hand-off note")


def measuring(parser: Parser, elsewhere: bool = False) -> None:
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


def verdict(parser: Parser) -> None:
    """In which form the verdict is told, and what exit code it gives."""
    parser.add_argument(
        "--format",
        choices=FORMATS,
        default="text",
        help="; ".join(f"{word}: {what}" for word, what in FORMATS.items()),
    )
    parser.add_argument("--json", dest="format", action="store_const", const="json", help="short for --format json")
    report(parser)
    fail_on(parser)


def report(parser: Parser) -> None:
    """A page beside what is printed."""
    parser.add_argument(
        "--report", metavar="PAGE.html", type=Path, help="write a page with plots and pictures as well, in one new file"
    )


def fail_on(parser: Parser) -> None:
    """From which severity the exit code is 1."""
    parser.add_argument(
        "--fail-on",
        choices=("error", "warning", "note", "never"),
        default="error",
        help="the severity from which the exit code is 1 (default: error)",
    )
