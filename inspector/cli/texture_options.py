"""The words of `meshqc fit`, `template` and `picture`."""

from __future__ import annotations

import argparse
from collections.abc import Callable
from pathlib import Path

from inspector.cli import values
from inspector.sequence.discovery.settings import SIDES


def _fit(parser: argparse.ArgumentParser) -> None:
    _size(parser)
    group = parser.add_argument_group("lettering")
    group.add_argument(
        "--caption", metavar="TEXT", action="append", help="text on one line in the rectangle; as often as you like"
    )
    group.add_argument(
        "--lettering-box",
        metavar="LEFT,BOTTOM,RIGHT,TOP",
        type=values.rectangle,
        help="where on the texture, each from 0 to 1 (default: the largest safe one)",
    )
    group.add_argument("--material", metavar="NAME", help="the material that the lettering is on")
    _stretch(group)
    parser.add_argument("--json", action="store_true", help="everything, as one JSON document")


def _template(parser: argparse.ArgumentParser) -> None:
    _to(parser, "FILE.png or FILE.svg", "a new file; give it twice for both", action="append")
    parser.add_argument("--bleed", metavar="PIXELS", type=values.count, help="how far to go on beyond the outlines")
    _size(parser)
    _which(parser)
    _stretch(parser)


def _picture(parser: argparse.ArgumentParser) -> None:
    _to(parser, "FILE.png", "a new file")
    group = parser.add_argument_group("what is shown (default: the reference frame with our grid)")
    way = group.add_mutually_exclusive_group()
    way.add_argument("--frame", metavar="FRAME", type=values.frame, action="append", help="these frames")
    way.add_argument("--sheet", metavar="COUNT", type=values.count, help="so many frames, evenly over the sequence")
    way.add_argument("--animate", action="store_true", help="all frames, as an animated PNG")
    group.add_argument("--each", metavar="N", type=values.count, help="each N-th frame of it only, for the same time")
    group.add_argument("--fps", metavar="RATE", type=values.rate, help="frames a second of it (default: 24)")
    group.add_argument(
        "--texture", metavar="FILE", type=values.file, action="append", help="a picture; several are shown side by side"
    )
    group.add_argument("--plain", action="store_true", help="the surface without any texture")
    group.add_argument("--wires", action="store_true", help="the faces' sides as well")
    _which(parser)


OWN: dict[str, Callable[[argparse.ArgumentParser], None]] = {"fit": _fit, "template": _template, "picture": _picture}
"""Command -> what adds its own options."""


def view(parser: argparse.ArgumentParser) -> None:
    """Where it is looked at from."""
    group = parser.add_argument_group("the picture")
    group.add_argument(
        "--from",
        dest="side",
        metavar="SIDE",
        type=values.direction,
        help=f"{', '.join(SIDES)}, or a direction such as 1,0.5,0 (default: from where the lettering looks to)",
    )
    group.add_argument(
        "--distance", metavar="UNITS", type=values.positive, help="from the middle of the motion (default: all fits in)"
    )
    group.add_argument("--fov", metavar="DEGREES", type=values.field_of_view, default=30.0, help="vertical (30)")
    group.add_argument(
        "--picture",
        metavar="WIDTHxHEIGHT",
        type=values.picture_size,
        help="in pixels (1920x1080; in a sheet 480x270, moving 640x360)",
    )
    group.add_argument("--up", choices=("y", "z"), default="y", help="the axis that points up in your scene (y)")
    axes = [sign + axis for axis in "xyz" for sign in ("", "-")]
    group.add_argument("--front", choices=axes, help="the axis that looks to the front (z; with z up: -y)")


def _to(parser: argparse.ArgumentParser, what: str, how: str, action: str = "store") -> None:
    parser.add_argument("--output", metavar=what, type=Path, required=True, action=action, help=how)


def _which(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("of which (needed where there are several)")
    group.add_argument("--sequence", metavar="NAME", help="as meshqc check calls it, whole or up to the number")
    group.add_argument("--material", metavar="NAME", help="the material")


def _size(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("how fine the texture shall be (default: the surface fills the picture)")
    one = group.add_mutually_exclusive_group()
    one.add_argument("--density", metavar="PIXELS", type=values.positive, help="pixels to a unit of the scene")
    one.add_argument("--fills", metavar="WIDTH", type=values.count, help="the surface fills a picture so wide, pixels")


def _stretch(parser: argparse._ActionsContainer) -> None:
    parser.add_argument(
        "--stretch", metavar="FACTOR", type=values.stretch, help="how far letters may grow or shrink (1.25)"
    )
