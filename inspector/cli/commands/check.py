"""`meshqc check`: inspect a folder or, with --part, measure only some of its frames for `meshqc merge`."""

from __future__ import annotations

import sys

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import EXIT_CODES, Arguments, Command, Group, Operand, Topic


class CheckOptions(shared.VerdictOptions):
    """Options of `check`.

    Attributes:
        part: The number of the part to measure, and the number of parts; None to inspect the whole folder.
    """

    part: tuple[int, int] | None


def add_options(options: Group) -> None:
    shared.statements(options)
    shared.verdict(options)
    group = shared.measuring(options)
    group.add("--cluster", metavar="ADDRESS", help="measure on the workers of this Dask scheduler")
    group.add(
        "--part",
        metavar="K/N",
        type=values.part,
        help="measure only part K of N, and print the measurements for meshqc merge",
    )


def run(arguments: Arguments[CheckOptions]) -> int:
    """Inspect the folder, or measure only some of its frames.

    Returns:
        Exit code 0, 1 (findings at or above --fail-on) or 2 (nothing to inspect, or a check failed).
    """
    from inspector.cli.inspecting import inspect
    from inspector.cli.reporting import page_destination, print_verdict

    if arguments.options.part is not None:
        return _measure_part(arguments, *arguments.options.part)
    page = page_destination(arguments)
    return print_verdict(inspect(arguments), arguments, page)


def _measure_part(arguments: Arguments[CheckOptions], number: int, of: int) -> int:
    """Print the measurements of the frames in one part, for `merge`, and return exit code 0."""
    from inspector.cli.inspecting import cache, executor, progress
    from inspector.report.document import json_text
    from inspector.sequence.discovery.discover import discover
    from inspector.sequence.run.collect import measure_spans
    from inspector.sequence.run.shards import QueuePart, part_document

    part = QueuePart(number, of)
    discovery = discover(arguments.folder)
    sequences = discovery.sequences
    with progress() as show, cache(arguments) as known, executor(arguments) as measuring:
        rows = []
        for sequence, index, facts in measure_spans(sequences, part.spans(sequences), known, measuring):
            show(sequences[sequence], facts)
            rows.append((facts, sequences[sequence].files[index - 1] if index else None))
    sys.stdout.write(json_text(part_document(part, discovery.root, rows)))
    return 0


COMMAND = Command(
    name="check",
    topic=Topic.INSPECT,
    summary="Print each problem and what to do.",
    options=CheckOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder with sequences"),
    notes=EXIT_CODES,
    examples=(
        "meshqc check harbour/kelp_broken --frames 1-15 --size 1.8",
        "meshqc rules --from harbour/manta > manta.toml",
        "meshqc check harbour --format junit --fail-on warning > verdict.xml",
        "meshqc check harbour/manta --format csv > manta.csv",
        "meshqc check harbour/manta_broken --report manta_broken.html",
        "meshqc check harbour/manta_broken --rules manta.toml",
    ),
)
