"""`meshqc unpack`: write frames from a file that holds a whole animation."""

from __future__ import annotations

from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import EXIT_CODES, Arguments, Command, Group, Operand, Topic
from inspector.units import METRES


class UnpackOptions(shared.VerdictOptions):
    """Options of `unpack`.

    Attributes:
        output: The new folder; None to list the content of the file.
        mesh: Paths or patterns of the meshes to unpack; empty for all meshes.
        split: Whether each mesh becomes a separate sequence.
        uv_set: Name of a UV set; None for the main UV set.
        step: Interval between the frames to unpack: 2 for every second frame.
        start: Number of the first whole frame in the new folder; None to keep the numbers.
        sub_frames: Whether samples between whole frames are unpacked.
        blend: Whether frames between two samples are interpolated.
        allow: Folders, besides the folder of the file, from which layers and textures may be read.
        instances: Whether the copies made by an instancer are unpacked.
        scale_to: Longest side after scaling, in scene units; None if the option isn't given.
        unit: Unit of the frames; None for the unit of the file.
        from_unit: Unit of the file; None for the unit that it states.
        from_up: Axis that points up in the file; None for the axis that it states.
        keep_axis: Whether z stays up if z is up in the file.
    """

    output: Path | None
    mesh: list[str]
    split: bool
    uv_set: str | None
    step: int
    start: int | None
    sub_frames: bool
    blend: bool
    allow: list[Path]
    instances: bool
    scale_to: float | None
    unit: str | None
    from_unit: str | None
    from_up: str | None
    keep_axis: bool


def add_options(options: Group) -> None:
    options.add(
        "output",
        metavar="OUT",
        type=values.path,
        nargs="?",
        help="new folder for the frames; without it, the contents of FILE are listed",
    )
    group = options.group("what to unpack")
    group.add(
        "--mesh",
        metavar="PATTERN",
        action="append",
        default=[],
        help="unpack only meshes that are at or below this path, or whose path matches it as a pattern, such as "
        "'*/kelp*'; repeatable",
    )
    group.add(
        "--split", action="store_true", help="write one sequence per mesh (default: one sequence with all meshes)"
    )
    group.add("--uv-set", metavar="NAME", help="use this UV set instead of the main UV set")
    group.add("--frames", metavar="1-240", type=values.frame_range, help="unpack only these frames")
    group.add("--step", metavar="N", type=values.count, default=1, help="unpack only every Nth frame")
    group.add(
        "--start",
        metavar="N",
        type=values.whole_frame,
        help="shift the frame numbers so that the first whole frame is N (default: as in the file)",
    )
    group.add("--sub-frames", action="store_true", help="also unpack the samples between whole frames")
    group.add("--blend", action="store_true", help="interpolate frames that are between two samples")
    group.add("--instances", action="store_true", help="also unpack the copies that instancers make (OpenUSD)")
    group.add(
        "--allow",
        metavar="DIR",
        type=values.path,
        action="append",
        default=[],
        help="read layers and textures from this folder, in addition to the file's folder and its subfolders "
        "(OpenUSD); repeatable",
    )
    group.add(
        "--fps", metavar="RATE", type=values.rate, help="frames per second, if the file states no rate or a wrong rate"
    )
    group = options.group("size and axes, the same for all frames")
    group.add(
        "--size",
        metavar="UNITS",
        type=values.positive,
        help="expected longest side of the object; a file whose size suggests a wrong unit is refused",
    )
    group.add("--scale-to", metavar="UNITS", type=values.positive, help="scale the longest side to this length")
    group.add("--unit", choices=tuple(METRES), help="convert the unit of the file to this unit")
    group.add("--from-unit", choices=tuple(METRES), help="unit of the file, if the file states no unit or a wrong unit")
    group.add(
        "--from-up",
        choices=("y", "z"),
        help="axis that points up in the file, if the file states no axis or a wrong axis",
    )
    group.add("--keep-axis", action="store_true", help="keep z up (default: rotate the frames so that y is up)")
    shared.verdict(options)


def run(arguments: Arguments[UnpackOptions]) -> int:
    """Write the frames of the file, or list its content.

    Returns:
        The exit code of `check` for the written frames, but at least 1 if damaged frames were left out; 0 for a list.
    """
    from inspector.cli.unpacking import unpack_file

    return unpack_file(arguments)


COMMAND = Command(
    name="unpack",
    topic=Topic.DELIVER,
    summary="Write OBJ frames from an animation file.",
    options=UnpackOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FILE", "animation file (.abc, .usd, .usda, .usdc, .usdz)"),
    usage="OUT",
    notes=f"""\
{EXIT_CODES}
If damaged frames were left out, the exit code is at least 1.
""",
    examples=(
        "meshqc fix harbour/manta --output harbour_scene --as usd --unit m --fps 25",
        "meshqc unpack harbour_scene/manta.usdc",
        "meshqc unpack harbour_scene/manta.usdc manta_frames --step 2 --unit cm",
        "meshqc fix harbour/manta --output harbour_archive --as abc --fps 25",
        "meshqc unpack harbour_archive/manta.abc manta_again --size 2.5",
    ),
)
