"""What to run next, as command lines."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path

from inspector.checks.base.finding import Severity
from inspector.checks.base.inspect import FolderInspection
from inspector.cli.arguments import Arguments
from inspector.cli.help import COMMANDS
from inspector.delivery.place import free_name
from inspector.fixes.base.fix import FixKind
from inspector.fixes.base.registry import all_fixes
from inspector.names import safe
from inspector.rules.find import FILE_NAME
from inspector.sequence.settings import Settings, frame_text


def next_steps(result: FolderInspection, arguments: Arguments) -> list[str]:
    """The command that answers what was found, and what it does; none where there is nothing to answer."""
    serious = [finding for one in result.inspections for finding in one.findings if finding.severity > Severity.INFO]
    if not serious:
        return []
    named = {fix for finding in serious for fix in finding.fixes}
    kinds = {fix.kind for fix in all_fixes() if fix.id in named}
    if not kinds:
        return [f"next: meshqc {quoted(arguments.folder)}", "      (no fix answers these; look at them by keyboard)"]
    if kinds == {FixKind.EXACT}:
        return [f"next: {_fix_command(arguments)}", "      (exact fixes only: they invent nothing)"]
    if FixKind.EXACT in kinds:
        hint = "(exact fixes; --every adds those that scale or invent; try --dry-run)"
        return [f"next: {_fix_command(arguments)}", f"      {hint}"]
    return [f"next: {_fix_command(arguments)} --every --dry-run", "      (shows the fixes that scale or invent)"]


def steps_after_fix(after: FolderInspection, arguments: Arguments) -> list[str]:
    """Where to look at what is left, and how to have it answered; none where nothing is left."""
    if not any(after.count(severity) for severity in Severity if severity > Severity.INFO):
        return []
    steps = [f"next: meshqc {quoted(arguments.options.to)}", "      (look at what is left by keyboard)"]
    if arguments.options.plan is None and not arguments.options.every:
        steps[1:] = [
            f"  or: {_fix_command(arguments)} --every --dry-run",
            "      (shows the fixes that scale or invent)",
        ]
    return steps


def _fix_command(arguments: Arguments) -> str:
    out = free_name(arguments.folder)
    return " ".join([f"meshqc fix {quoted(arguments.folder)} --to {quoted(out)}", *statement_words(arguments.settings)])


def statement_words(settings: Settings) -> Iterator[str]:
    """What was stated about a folder, as options of the command line."""
    if settings.expected is not None:
        yield f"--frames {'-'.join(map(frame_text, settings.expected))}"
    if settings.size is not None:
        yield f"--size {settings.size:g}"
    for folder in settings.textures:
        yield f"--textures {quoted(folder)}"
    if settings.reference is not None:
        yield f"--reference {frame_text(settings.reference)}"
    if settings.rules.file is not None and settings.rules.file.name != FILE_NAME:
        yield f"--rules {quoted(settings.rules.file)}"
    if settings.uvs_from is not None:
        yield f"--uvs-from {quoted(settings.uvs_from)}"
    if settings.rate is not None:
        yield f"--fps {settings.rate}"


def quoted(path: Path) -> str:
    """The path as a word of a command line, no command or option of ours, safe on any screen."""
    word = str(path)
    return safe(shlex.quote(f"./{word}" if word in COMMANDS or word.startswith("-") else word))
