"""Inspecting a folder with progress on stderr, and whether the result can vouch for it."""

from __future__ import annotations

from collections import Counter

from inspector.checks.base.inspect import FolderInspection, inspect_folder
from inspector.cli.arguments import Arguments
from inspector.cli.screen import ProgressLine
from inspector.names import Name
from inspector.sequence.discover import Sequence
from inspector.sequence.facts import FrameFacts


def inspect(arguments: Arguments) -> FolderInspection:
    """The folder inspected."""
    done: Counter[Name] = Counter()
    with ProgressLine() as line:

        def progress(sequence: Sequence, _: FrameFacts) -> None:
            done[sequence.pattern] += 1
            line.show(f"reading {sequence.pattern}: {done[sequence.pattern]:,} of {len(sequence.files):,}")

        return inspect_folder(arguments.folder, arguments.settings, progress)


def incomplete(result: FolderInspection) -> str | None:
    """Why the inspection can't vouch for the folder, or None: silence must not pass for health."""
    if not result.inspections:
        return f"{Name.from_path(result.root)}: no sequence of numbered mesh files here"
    failed = sorted({check for one in result.inspections for check, _ in one.verdict.failed})
    return f"these checks broke and judged nothing: {', '.join(failed)}" if failed else None
