"""`meshqc watch`: check each frame as an export writes it."""

from __future__ import annotations

from inspector.cli import options as shared
from inspector.cli import values
from inspector.cli.command import Arguments, Command, Group, Operand, Topic


class WatchOptions(shared.VerdictOptions):
    """Options of `watch`.

    Attributes:
        until: Watching ends when this many frames exist; None for no limit.
        quiet_for: Watching ends after this many seconds without a change; None for no limit.
        stop_on_error: Whether watching ends at the first error that lasts three seconds.
    """

    until: int | None
    quiet_for: float | None
    stop_on_error: bool


def add_options(options: Group) -> None:
    group = options.group("when to stop (default: when you press Ctrl-C)")
    group.add("--until", metavar="N", type=values.count, help="stop when N frames exist")
    group.add(
        "--quiet-for",
        metavar="SECONDS",
        type=values.positive,
        help="stop when nothing has changed for this many seconds",
    )
    group.add(
        "--stop-on-error",
        action="store_true",
        help="stop with exit code 1 at the first error that lasts three seconds",
    )
    shared.verdict(options)
    shared.statements(options)


def run(arguments: Arguments[WatchOptions]) -> int:
    """Check each frame as it arrives; when watching ends, print the verdict.

    Returns:
        Exit code 0; 1 if there are findings at or above --fail-on, or if watching stopped because an error persisted; 2
        if no frame arrived, or if a check failed and the report format is not text.
    """
    from inspector.cli.watching import watch_folder

    return watch_folder(arguments)


COMMAND = Command(
    name="watch",
    topic=Topic.INSPECT,
    summary="Check each frame as an export writes it.",
    options=WatchOptions,
    add_options=add_options,
    run=run,
    folder=Operand("FOLDER", "folder that an export writes to"),
    notes="""\
exit codes:
  0  no finding reaches the --fail-on severity (default: error)
  1  at least one finding reaches that severity, or watching ended because of
     --stop-on-error
  2  failed (invalid options, an unreadable folder, no frames; with a --format
     other than text: a failed check)

Frames are listed as they arrive. With a --format other than text, they are
listed on stderr, and the report of all checks is printed on stdout at the end.
Ctrl-C ends watching; the frames that have arrived are then judged.
""",
    examples=(
        "meshqc watch harbour/manta --until 24 --stop-on-error",
        "meshqc watch harbour/manta --quiet-for 60 --fail-on warning",
        "meshqc watch harbour/manta --until 24 --format junit > verdict.xml",
    ),
)
