"""What to run next, as command lines."""

from __future__ import annotations

import os
import shlex
from collections.abc import Iterator, Set
from pathlib import Path

from inspector.checks.base.finding import Severity
from inspector.cli.command import Arguments, Options
from inspector.cli.registry import named_commands
from inspector.delivery.choices import all_choices
from inspector.delivery.destination import free_name
from inspector.delivery.plan_file import plans_of
from inspector.delivery.planning import untried_plan
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import AnyStep, FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection
from inspector.names import safe
from inspector.rules.find import FILE_NAME, find_rules
from inspector.sequence.discovery.settings import Settings, frame_text


def next_steps(result: FolderInspection, folder: Path, settings: Settings) -> list[str]:
    """The command that answers the findings, and what it does, in lines; nothing if nothing needs an answer.

    Args:
        result: The inspection.
        folder: The folder as the user named it.
        settings: What was stated about it.
    """
    serious = [finding for one in result.inspections for finding in one.findings if finding.severity > Severity.NOTE]
    if not serious:
        return []
    kinds = {fix_by_id(step.fix).kind for step in _planned_steps(result)}
    command = _fix_command(folder, settings)
    if not kinds and any(finding.fixes for finding in serious):
        return [f"next: {command} --all --dry-run", "      (shows why the fixes that could answer these are refused)"]
    if not kinds:
        return [f"next: meshqc {quoted(folder)}", "      (no fix answers these; look at them in the terminal UI)"]
    if kinds == {FixKind.LOSSLESS}:
        return [f"next: {command}", "      (lossless fixes only)"]
    if FixKind.LOSSLESS in kinds:
        return [f"next: {command}", "      (lossless fixes; --all adds the other kinds; preview with --dry-run)"]
    return [f"next: {command} --all --dry-run", _PREVIEW]


_PREVIEW = "      (previews the fixes that apply one constant or change data)"


def _planned_steps(result: FolderInspection) -> tuple[AnyStep, ...]:
    """The steps of all fixes that would not be refused; nothing if no plan can be made."""
    try:
        return untried_plan(result, all_choices(result)).steps
    except MeshqcError:
        return ()


def steps_after_fix(after: FolderInspection, arguments: Arguments[Options], out: Path, more_fixes: bool) -> list[str]:
    """Where to look at the remaining findings, and how to answer them; nothing where none remain.

    Args:
        after: The corrected folder, as it was inspected.
        arguments: What the command was called with.
        out: The corrected folder.
        more_fixes: Whether --all would have added fixes.
    """
    if not any(after.count(severity) for severity in Severity if severity > Severity.NOTE):
        return []
    steps = [f"next: meshqc {quoted(out)}"]
    if not more_fixes:
        return [*steps, "      (shows the remaining findings in the terminal UI)"]
    return [*steps, f"  or: {_fix_command(arguments.folder, arguments.settings)} --all --dry-run", _PREVIEW]


def steps_after_compare(folder: Path, other: Path, sequences: Set[str]) -> list[str]:
    """Commands that judge and correct an export as the one before it: by its rules, and by plans saved with it.

    Args:
        folder: The export.
        other: The one before.
        sequences: Names of the sequences that plans may be for.
    """
    steps = []
    rules = other / FILE_NAME
    if rules.is_file() and not (folder / FILE_NAME).exists():
        steps.append(f"meshqc check {quoted(folder)} --rules {quoted(rules)}")
    for path, _ in plans_of(other, sequences):
        steps.append(f"meshqc fix {quoted(folder)} --output {quoted(free_name(folder))} --plan {quoted(path)}")
    return [f"{'next:' if number == 0 else '  or:'} {step}" for number, step in enumerate(steps)]


def check_command(folder: Path, settings: Settings) -> str:
    """The command that checks the folder with the same statements and rules.

    Args:
        folder: The folder as the user named it.
        settings: What was stated about it.
    """
    return " ".join([f"meshqc check {quoted(folder)}", *_how_it_is_judged(folder, settings)])


def _fix_command(folder: Path, settings: Settings) -> str:
    start = f"meshqc fix {quoted(folder)} --output {quoted(free_name(folder))}"
    return " ".join([start, *_how_it_is_judged(folder, settings), *_source_words(settings)])


def statement_words(settings: Settings) -> Iterator[str]:
    """What was stated about a folder, as options of the command line."""
    yield from _folder_words(settings)
    yield from _source_words(settings)


def _how_it_is_judged(folder: Path, settings: Settings) -> Iterator[str]:
    """What was stated, and the rules where they are not those that the folder has by itself."""
    yield from _folder_words(settings)
    stated = settings.rules.file
    try:
        own = find_rules(folder)
    except MeshqcError:  # a rules file exists, and was not applied
        own = folder / FILE_NAME
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
    if settings.invent_at_most is not None:
        yield f"--invent-at-most {settings.invent_at_most}"
    if settings.rate is not None:
        yield f"--fps {settings.rate}"


def quoted(path: Path) -> str:
    """The path quoted for a command line, never mistaken for a command or an option, and safe on any screen."""
    word = str(path)
    return quoted_word(f"./{word}" if word in named_commands() or word.startswith("-") else word)


def quoted_word(word: str) -> str:
    """A word of a command line, safe on any screen.

    What a screen must not show is written as octal in `$'...'`, which POSIX.1-2024 defines and bash, zsh and ksh have
    long had.
    """
    if safe(word) == word:
        return shlex.quote(word)
    shown = (
        char if safe(char) == char and char not in "'\\" else "".join(f"\\{byte:03o}" for byte in os.fsencode(char))
        for char in word
    )
    return f"$'{''.join(shown)}'"
