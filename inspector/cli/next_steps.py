"""What to run next, as command lines."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path

from inspector.checks.base.finding import Severity
from inspector.cli.arguments import Arguments
from inspector.cli.help import COMMANDS
from inspector.delivery.destination import free_name
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import all_fixes
from inspector.inspection.inspection import FolderInspection
from inspector.names import safe
from inspector.rules.find import FILE_NAME, find_rules
from inspector.sequence.discovery.settings import Settings, frame_text


def next_steps(result: FolderInspection, arguments: Arguments) -> list[str]:
    """The command that answers what was found, and what it does; none where there is nothing to answer."""
    serious = [finding for one in result.inspections for finding in one.findings if finding.severity > Severity.NOTE]
    if not serious:
        return []
    named = {fix for finding in serious for fix in finding.fixes}
    kinds = {fix.kind for fix in all_fixes() if fix.id in named}
    if not kinds:
        return [f"next: meshqc {quoted(arguments.folder)}", "      (no fix answers these; look at them by keyboard)"]
    if kinds == {FixKind.LOSSLESS}:
        return [f"next: {_fix_command(arguments)}", "      (lossless fixes only)"]
    if FixKind.LOSSLESS in kinds:
        hint = "(lossless fixes; --all adds the other kinds; try --dry-run)"
        return [f"next: {_fix_command(arguments)}", f"      {hint}"]
    return [f"next: {_fix_command(arguments)} --all --dry-run", "      (shows the fixes that scale or invent)"]


def steps_after_fix(after: FolderInspection, arguments: Arguments) -> list[str]:
    """Where to look at what is left, and how to have it answered; none where nothing is left."""
    if not any(after.count(severity) for severity in Severity if severity > Severity.NOTE):
        return []
    steps = [f"next: meshqc {quoted(arguments.options.output)}", "      (look at what is left by keyboard)"]
    if arguments.options.plan is None and not arguments.options.all:
        steps[1:] = [
            f"  or: {_fix_command(arguments)} --all --dry-run",
            "      (shows the fixes that scale or invent)",
        ]
    return steps


def check_command(arguments: Arguments) -> str:
    """The command that checks the same folder in the same way."""
    return " ".join([f"meshqc check {quoted(arguments.folder)}", *_how_it_is_judged(arguments)])


def _fix_command(arguments: Arguments) -> str:
    start = f"meshqc fix {quoted(arguments.folder)} --output {quoted(free_name(arguments.folder))}"
    return " ".join([start, *_how_it_is_judged(arguments), *_source_words(arguments.settings)])


def statement_words(settings: Settings) -> Iterator[str]:
    """What was stated about a folder, as options of the command line."""
    yield from _folder_words(settings)
    yield from _source_words(settings)


def _how_it_is_judged(arguments: Arguments) -> Iterator[str]:
    """What was stated, and the rules where they are others than those that the folder has by itself."""
    yield from _folder_words(arguments.settings)
    stated = arguments.settings.rules.file
    try:
        own = find_rules(arguments.folder)
    except MeshqcError:  # there are some, which are not followed
        own = arguments.folder / FILE_NAME
    if stated is None and own is not None:
        yield "--no-rules"
    elif stated is not None and stated.resolve() != own:
        yield f"--rules {quoted(stated)}"


def _folder_words(settings: Settings) -> Iterator[str]:
    if settings.expected is not None:
        yield f"--frames {'-'.join(map(frame_text, settings.expected))}"
    if settings.size is not None:
        yield f"--size {settings.size:.12g}"
    for folder in settings.textures:
        yield f"--textures {quoted(folder)}"
    if settings.reference is not None:
        yield f"--reference {frame_text(settings.reference)}"


def _source_words(settings: Settings) -> Iterator[str]:
    if settings.uvs_from is not None:
        yield f"--uvs-from {quoted(settings.uvs_from)}"
    if settings.rate is not None:
        yield f"--fps {settings.rate}"


def quoted(path: Path) -> str:
    """The path as a word of a command line, no command or option of ours, safe on any screen."""
    word = str(path)
    return safe(shlex.quote(f"./{word}" if word in COMMANDS or word.startswith("-") else word))
