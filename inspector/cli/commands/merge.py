"""`meshqc merge`: print the verdict on a folder whose frames were measured in parts."""

from __future__ import annotations

from pathlib import Path

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import EXIT_CODES, Arguments, Command, Group, Operand, Topic


class MergeOptions(shared.VerdictOptions):
    """Options of `merge`.

    Attributes:
        parts: Files with the output of `check --part`.
    """

    parts: list[Path]


def add_options(options: Group) -> None:
    options.add(
        "parts",
        metavar="PART",
        type=values.path,
        nargs="+",
        help="output of meshqc check --part K/N, one file for each K",
    )
    shared.statements(options)
    shared.verdict(options)


def run(arguments: Arguments[MergeOptions]) -> int:
    """Print the verdict on all parts together, and return the same exit code as `check`.

    Raises:
        MeshqcError: A part can't be read, is missing or doesn't match the folder.
    """
    from inspector.cli.reporting import page_destination, print_verdict
    from inspector.inspection.inspection import check_folder
    from inspector.sequence.discovery.discover import discover
    from inspector.sequence.run.shards import merge_parts

    page = page_destination(arguments)
    discovery = discover(arguments.folder)
    measured = merge_parts(arguments.options.parts, discovery.root, discovery.sequences)
    return print_verdict(check_folder(discovery, measured, arguments.settings), arguments, page)


COMMAND = Command(
    name="merge",
    topic=Topic.INSPECT,
    summary="Combine the output of check --part.",
    options=MergeOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder that was measured in parts"),
    usage="PART...",
    notes=EXIT_CODES,
    examples=(
        "meshqc check harbour/manta --part 1/2 > part1.json",
        "meshqc check harbour/manta --part 2/2 > part2.json",
        "meshqc merge harbour/manta part1.json part2.json --json",
    ),
)
