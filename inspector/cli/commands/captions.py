"""`meshqc captions`: list caption versions, check that they fit and are readable, and write their textures."""

from __future__ import annotations

from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import Arguments, Command, Group, Operand, Topic


class CaptionsOptions(shared.TextureOptions):
    """Options of `captions`.

    Attributes:
        captions: The file with the caption versions; None for captions.toml beside the frames.
        version: Names of the chosen versions; None for all versions.
        output: The new folder for the textures; None to write no textures.
        box_from: Two textures; the lettering box is the area in which they differ. None if the option isn't given.
        fail_on: "unreadable" or "never".
        json: Whether the result is printed as JSON.
    """

    captions: Path | None
    version: list[str] | None
    output: Path | None
    box_from: list[Path] | None
    fail_on: str
    json: bool


def add_options(options: Group) -> None:
    options.add(
        "--captions",
        metavar="FILE",
        type=values.file,
        help="TOML or CSV file with the caption versions (default: captions.toml beside the frames)",
    )
    options.add("--version", metavar="NAME", action="append", help="check and render only this version; repeatable")
    options.add(
        "--output",
        metavar="DIR",
        type=values.path,
        help="new folder for the textures; one texture is written per version",
    )
    options.add(
        "--box-from",
        metavar=("A", "B"),
        nargs=2,
        type=values.file,
        help="set the lettering box to the area where these two textures differ",
    )
    options.add(
        "--fail-on",
        choices=("unreadable", "never"),
        default="never",
        help="unreadable: exit code 1 if a version doesn't fit, or is unreadable in a frame where it must be readable "
        "(default: never)",
    )
    shared.json(options, "everything")
    shared.density(options)
    shared.subject(options)
    shared.stretch(options)
    shared.view(options)
    shared.reading(options.group(shared.STATEMENTS))
    shared.measuring(options)


def run(arguments: Arguments[CaptionsOptions]) -> int:
    """Draw, judge and write the caption versions.

    Returns:
        Exit code 0; 1 if `--fail-on unreadable` is given and a version doesn't fit or is unreadable.
    """
    from inspector.cli.captioning import caption

    return caption(arguments)


COMMAND = Command(
    name="captions",
    topic=Topic.TEXTURE,
    summary="Render and check caption versions.",
    options=CaptionsOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder with sequences; it is never changed"),
    notes="""\
exit codes:
  0  done
  1  with --fail-on unreadable: a version doesn't fit, or is unreadable in a
     frame where it must be readable
  2  failed (invalid options, a mistake in the captions file; with --output: a
     version that doesn't fit, an output folder that already exists), or
     stopped with Ctrl-C
""",
    examples=(
        "meshqc captions harbour/buoy",
        "meshqc captions harbour/buoy --output harbour_captions --fail-on unreadable",
    ),
)
