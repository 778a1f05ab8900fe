"""Inspect a folder with progress on stderr, and determine whether the result is complete."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager

from inspector.cli.command import Arguments, Options
from inspector.cli.exit_codes import say
from inspector.cli.quoting import quoted
from inspector.cli.streams import ProgressLine
from inspector.errors import MeshqcError
from inspector.inspection.inspection import FolderInspection, Progress, build_all, inspect_folder, measure_all
from inspector.names import Name, counted, safe
from inspector.sequence.discovery.discover import Discovery, Sequence, discover
from inspector.sequence.discovery.receipt_marks import read_marks
from inspector.sequence.discovery.settings import Settings
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.cluster import ClusterExecutor
from inspector.sequence.run.executors import Executor
from inspector.sequence.series import Series
from inspector.user_folders import user_folder


def inspect(arguments: Arguments[Options]) -> FolderInspection:
    """Inspect the folder of a command, with progress on stderr."""
    with progress() as show, cache(arguments) as known, executor(arguments) as measuring:
        return inspect_folder(arguments.folder, arguments.settings, show, cache=known, executor=measuring)


def name_rules(settings: Settings) -> None:
    """Print on stderr which delivery rules apply, for a command whose output doesn't name them.

    The rules may change the verdict, and the user may not know that a parent folder contains a rules file.
    """
    if settings.rules.file is not None:
        from inspector.report.text import rules_words

        say(f"rules: {rules_words(settings.rules)}")


def measure(arguments: Arguments[Options]) -> list[Series]:
    """Measure the folder's sequences without checking them.

    Raises:
        MeshqcError: There is no sequence.
    """
    discovery = discover(arguments.folder)
    with progress() as show, cache(arguments) as known:
        measured = measure_all(discovery.sequences, known, progress=show)
    found, _ = build_all(measured, arguments.settings, read_marks(discovery.root))
    if not found:
        raise MeshqcError(no_sequence(discovery))
    return found


@contextmanager
def progress() -> Iterator[Progress]:
    """Yield a function that shows, on stderr, how many frames of a sequence have been read."""
    done: Counter[Name] = Counter()
    with ProgressLine() as line:

        def show(sequence: Sequence, _: FrameFacts) -> None:
            done[sequence.pattern] += 1
            line.show(f"reading {sequence.pattern}: {done[sequence.pattern]:,} of {len(sequence.files):,}")

        yield show


@contextmanager
def cache(arguments: Arguments[Options]) -> Iterator[FactsCache]:
    """Yield the user's cache of measurements or, with `--no-cache`, a cache that saves nothing."""
    known = FactsCache(None if arguments.options.no_cache else user_folder("cache"))
    try:
        yield known
    finally:
        known.close()


@contextmanager
def executor(arguments: Arguments[Options]) -> Iterator[Executor | None]:
    """Yield a connection to the workers given with `--cluster`, or None to measure on this machine."""
    address = arguments.options.cluster
    if address is None:
        yield None
        return
    cluster = ClusterExecutor(address)
    try:
        yield cluster
    finally:
        cluster.close()


def incomplete(result: FolderInspection) -> str | None:
    """Return the reason why an inspection is incomplete (no sequence, or a failed check), or None if it is complete."""
    if not result.inspections:
        return no_sequence(result.discovery)
    failed = [pair for one in result.inspections for pair in one.verdict.failed]
    if not failed:
        return None
    checks = sorted({check for check, _ in failed})
    causes = dict.fromkeys(safe(error.strip().rpartition("\n")[2]) for _, error in failed)
    return f"{counted(len(checks), 'check')} failed and gave no result: {', '.join(checks)} ({'; '.join(causes)})"


def no_sequence(discovery: Discovery) -> str:
    """Return the message for a folder without a sequence.

    If the folder contains a file with an animation, the message contains the command that lists the animation.
    Otherwise, it shows how to name frames.
    """
    ways = [
        f"to list the contents of an animation file in this folder: meshqc unpack {quoted(path)}"
        for path in discovery.animations[:1]
    ]
    way = ways[0] if ways else "name the frames like this: manta.0001.obj"
    return f"{Name.from_path(discovery.root)}: no sequence of numbered mesh files here; {way}"
