"""Options that several commands share."""

from __future__ import annotations

from pathlib import Path

from inspector.cli import values
from inspector.cli.command import Group, Options
from inspector.report.formats import all_formats
from inspector.rules.find import FILE_NAME
from inspector.sequence.discovery.settings import SIDES

STATEMENTS = "what you state about the folder"


class JudgedOptions(Options):
    """Options of a command that applies delivery rules.

    Attributes:
        rules: The rules file; None for the rules file in the folder or in a folder above it.
        no_rules: Whether no rules are applied.
    """

    rules: Path | None = None
    no_rules: bool = False


class ReportOptions(JudgedOptions):
    """Options of a command that can write an HTML page.

    Attributes:
        report: The file to which the page is written; None for no page.
    """

    report: Path | None = None


class VerdictOptions(ReportOptions):
    """Options of a command that prints a verdict.

    Attributes:
        format: Id of the report format.
        fail_on: The lowest severity that causes exit code 1, or "never".
    """

    format: str
    fail_on: str


class TextureOptions(JudgedOptions):
    """Options of `fit`, `template`, `picture` and `captions`. Except for `fov`, an option that isn't given is None.

    Attributes:
        side: The side from which the object is seen: a key of SIDES, or a direction of any length.
        distance: Distance of the camera from the centre of the motion, in scene units.
        fov: Vertical field of view, in degrees.
        picture: Width and height of each picture, in pixels.
        up: Axis that points up: "x", "y" or "z".
        front: Axis that points to the front, such as "z" or "-y".
        density: Texel density, in pixels per scene unit.
        fill_width: Width, in pixels, of the picture whose width the surface should fill.
        material: Name of the material with the lettering.
        sequence: Name of the sequence.
        stretch: Largest factor, above 1, by which letters may grow or shrink.
        lettering_box: Left, bottom, right and top sides of the lettering box, as UVs.
        caption: Captions to fit into the lettering box, each on one line.
    """

    side: str | tuple[float, float, float] | None
    distance: float | None
    fov: float
    picture: tuple[int, int] | None
    up: str | None
    front: str | None
    density: float | None = None
    fill_width: int | None = None
    material: str | None = None
    sequence: str | None = None
    stretch: float | None = None
    lettering_box: tuple[float, float, float, float] | None = None
    caption: list[str] | None = None


def statements(options: Group) -> None:
    """Add the options for facts about the folder."""
    group = options.group(STATEMENTS)
    group.add(
        "--frames",
        metavar="1-240",
        type=values.frame_range,
        help="first and last frame number of the range that should exist",
    )
    group.add("--size", metavar="UNITS", type=values.positive, help="longest side of the object in the reference frame")
    reading(group)


def reading(group: Group) -> None:
    """Add the options for additional folders to read, the reference frame, and the delivery rules."""
    group.add(
        "--textures",
        metavar="DIR",
        type=values.folder,
        action="append",
        help="also read files, such as textures, from this folder; repeatable",
    )
    group.add(
        "--reference",
        metavar="FRAME",
        type=values.frame,
        help="number of the frame that other frames are compared with",
    )
    group.add(
        "--rules",
        metavar="FILE",
        type=values.file,
        help=f"file with delivery rules (default: {FILE_NAME} in the folder or in a folder above it)",
    )
    group.add("--no-rules", action="store_true", help="apply no delivery rules")


def sources(options: Group) -> None:
    """Add the options for UVs and a frame rate."""
    group = options.group("data to add")
    group.add("--uvs-from", metavar="FILE", type=values.file, help="mesh file with UVs that a fix may copy")
    group.add("--fps", metavar="RATE", type=values.rate, help="frames per second, for the hand-off note and `retime`")


def measuring(options: Group) -> Group:
    """Add the options that control how frames are measured, and return their group. They never change a result."""
    group = options.group("how frames are measured (the result stays the same)")
    group.add("--no-cache", action="store_true", help="measure every frame from scratch and save no measurements")
    return group


def verdict(options: Group) -> None:
    """Add the options for the report format, the HTML page, and the severity that causes exit code 1."""
    options.add(
        "--format",
        choices=tuple(all_formats()),
        default="text",
        help="; ".join(f"{one.id}: {one.help}" for one in all_formats().values()),
    )
    options.add("--json", dest="format", action="store_const", const="json", help="short for --format json")
    report(options)
    fail_on(options)


def report(options: Group) -> None:
    """Add the option for an HTML page, which is written in addition to the printed output."""
    options.add(
        "--report",
        metavar="PAGE.html",
        type=values.path,
        help="also write an HTML page with plots and pictures to this new file",
    )


def fail_on(options: Group) -> None:
    """Add the option for the lowest severity that causes exit code 1."""
    options.add(
        "--fail-on",
        choices=("error", "warning", "note", "never"),
        default="error",
        help="lowest severity that causes exit code 1 (default: error)",
    )


def json(options: Group, what: str) -> None:
    """Add the option for JSON instead of text.

    `what` is the phrase for the printed content in the help text.
    """
    options.add("--json", action="store_true", help=f"print {what} as one JSON document")


def view(options: Group) -> None:
    group = options.group("the picture")
    group.add(
        "--from",
        dest="side",
        metavar="SIDE",
        type=values.direction,
        help=f"viewpoint: {', '.join(SIDES)}, or a direction such as 1,0.5,0 (default: the side that the lettering "
        "faces)",
    )
    group.add(
        "--distance",
        metavar="UNITS",
        type=values.positive,
        help="distance of the camera from the centre of the motion (default: far enough to show the whole motion)",
    )
    group.add(
        "--fov", metavar="DEGREES", type=values.field_of_view, default=30.0, help="vertical field of view (default: 30)"
    )
    group.add(
        "--picture",
        metavar="WIDTHxHEIGHT",
        type=values.picture_size,
        help="width and height of each picture in pixels (default: 1920x1080, or captions.picture of the delivery "
        "rules; sheets: fitted to a 1920x1080 page; animations: 640x360, or fitted to 1280x720 with several textures)",
    )
    group.add(
        "--up",
        choices=tuple("xyz"),
        help="axis that points up in your scene (default: y, or scene.up of the delivery rules)",
    )
    axes = [sign + axis for axis in "xyz" for sign in ("", "-")]
    group.add("--front", choices=axes, help="axis that points to the front (default: z, or -y if z is up)")


def density(options: Group) -> None:
    """Add the two options that determine the texel density. Only one of them may be given."""
    one = options.group("resolution of the texture (default: enough if the surface fills the picture)").exclusive()
    one.add("--density", metavar="PIXELS", type=values.positive, help="pixels per scene unit")
    one.add(
        "--fill-width",
        metavar="PIXELS",
        type=values.count,
        help="compute the density from the width of a picture that the surface fills",
    )


def subject(options: Group) -> None:
    group = options.group("which sequence (required if there are several) and which material")
    group.add(
        "--sequence",
        metavar="NAME",
        help="name of the sequence as meshqc check prints it, in full or up to the frame number",
    )
    material(group)


def material(group: Group) -> None:
    group.add("--material", metavar="NAME", help="name of the material with the lettering")


def stretch(group: Group) -> None:
    group.add(
        "--stretch",
        metavar="FACTOR",
        type=values.stretch,
        help="largest factor by which letters may grow or shrink (default: 1.25)",
    )
