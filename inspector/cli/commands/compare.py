"""`meshqc compare`: show differences between frames, between frames and their corrections, or between two exports."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import Arguments, Command, Group, Operand, Options, Topic


class CompareOptions(Options):
    """Options of `compare`. Exactly one of `against`, `corrected` and `other` is given; the remaining two are None.

    Attributes:
        against: Number of the frame that each frame is compared with.
        corrected: Folder with the corrected frames.
        other: Folder with the previous export.
        frame: Numbers of the frames to compare; None for all frames.
        json: Whether the comparison of exports is printed as JSON.
    """

    against: Fraction | None
    corrected: Path | None
    other: Path | None
    frame: list[Fraction] | None
    json: bool


def add_options(options: Group) -> None:
    group = options.group("what to compare")
    other = group.exclusive(required=True)
    other.add(
        "--against", metavar="FRAME", type=values.frame, help="compare each frame with this frame of its sequence"
    )
    other.add(
        "--corrected",
        metavar="OUT",
        type=values.path,
        help="compare each frame with its corrected version in this folder (written by meshqc fix)",
    )
    other.add(
        "--with",
        dest="other",
        metavar="OTHER",
        type=values.path,
        help="compare with the previous export in this folder",
    )
    group.add(
        "--frame", metavar="FRAME", type=values.frame, action="append", help="compare only this frame; repeatable"
    )
    shared.json(options, "the result of --with")


def run(arguments: Arguments[CompareOptions]) -> int:
    """Compare frames or exports, and print the differences.

    Returns:
        Exit code 0 (no difference or, for exports, nothing got worse), 1 (a difference or a missing frame; for exports,
        something got worse) or 2 (a frame can't be read, or a folder has no sequence).
    """
    from inspector.cli.comparing import compare_exports, compare_folder

    return compare_folder(arguments) if arguments.options.other is None else compare_exports(arguments)


COMMAND = Command(
    name="compare",
    topic=Topic.INSPECT,
    summary="Show how frames or exports differ.",
    options=CompareOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder with sequences"),
    notes="""\
exit codes:
  0  no differences; if --with is given: nothing got worse
  1  a difference or a missing frame; if --with is given: a new error or
     warning, or a missing frame
  2  failed (invalid options, an unreadable frame), or stopped with Ctrl-C
""",
    examples=(
        "meshqc compare harbour/manta --frame 7 --against 1",
        "meshqc fix harbour/kelp_broken --output harbour_kelp",
        "meshqc compare harbour/kelp_broken --corrected harbour_kelp",
        "meshqc compare harbour_kelp --with harbour/kelp_broken",
    ),
)
