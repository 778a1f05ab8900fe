"""`meshqc picture`: draw a frame, a contact sheet or an animation."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import PICTURE_EXIT_CODES, Arguments, Command, Group, Operand, Topic


class PictureOptions(shared.TextureOptions):
    """Options of `picture`. A value that isn't given is None.

    Attributes:
        output: The new file.
        frame: Numbers of the frames to draw.
        sheet: Number of frames in a contact sheet.
        animate: Whether all frames are drawn as an animation.
        step: Interval between the frames of an animation: 2 for every second frame.
        texture: Image files to draw as textures, each in its own picture.
        normal_map: File of a normal map for the surface.
        maps: Whether materials are drawn with their own maps.
        closeup: Whether the lettering box fills the picture.
        plain: Whether the picture is drawn without textures.
        wires: Whether the edges of the faces are drawn.
    """

    output: Path
    frame: list[Fraction] | None
    sheet: int | None
    animate: bool
    step: int | None
    texture: list[Path] | None
    normal_map: Path | None
    maps: bool
    closeup: bool
    plain: bool
    wires: bool


def add_options(options: Group) -> None:
    options.add(
        "--output",
        metavar="FILE",
        type=values.path,
        required=True,
        help="new file: PNG or PDF; with --animate: PNG, GIF, WebP or MP4",
    )
    group = options.group("what to draw (default: the reference frame with a test grid)")
    frames = group.exclusive()
    frames.add("--frame", metavar="FRAME", type=values.frame, action="append", help="draw this frame; repeatable")
    frames.add(
        "--sheet", metavar="COUNT", type=values.count, help="draw this many frames, evenly spaced in the sequence"
    )
    frames.add("--animate", action="store_true", help="draw all frames as an animation")
    group.add(
        "--step", metavar="N", type=values.count, help="animate only every Nth frame, without changing the duration"
    )
    group.add("--fps", metavar="RATE", type=values.rate, help="frames per second of the sequence (default: 24)")
    group.add(
        "--texture",
        metavar="FILE",
        type=values.file,
        action="append",
        help="use this image as the texture; repeat the option to compare several images",
    )
    group.add("--normal-map", metavar="FILE", type=values.file, help="light the surface with this normal map")
    group.add("--maps", action="store_true", help="draw the colour maps and normal maps of the materials")
    group.add("--closeup", action="store_true", help="show a close-up of the lettering box")
    group.add("--plain", action="store_true", help="draw the surface without a texture")
    group.add("--wires", action="store_true", help="draw the edges of the faces")
    shared.subject(options)
    shared.view(options)
    shared.reading(options.group(shared.STATEMENTS))
    shared.measuring(options)


def run(arguments: Arguments[PictureOptions]) -> int:
    """Draw the frames, write the file, and return exit code 0."""
    from inspector.cli.drawing import draw

    return draw(arguments)


COMMAND = Command(
    name="picture",
    topic=Topic.TEXTURE,
    summary="Draw a frame, a sheet or an animation.",
    options=PictureOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder with sequences; it is never changed"),
    usage="--output PNG",
    notes=PICTURE_EXIT_CODES,
    examples=(
        "meshqc picture harbour/manta --output frame.png",
        "meshqc picture harbour/buoy --sheet 6 --maps --output buoy_sheet.pdf",
        "meshqc picture harbour/manta --animate --fps 25 --output moving.png",
    ),
)
