"""Suggest the next steps, as command lines."""

from __future__ import annotations

from collections.abc import Iterator, Set
from contextlib import suppress
from pathlib import Path

from inspector.checks.base.finding import Finding
from inspector.cli.quoting import quoted
from inspector.delivery.choices import all_choices, serious
from inspector.delivery.destination import free_name
from inspector.errors import MeshqcError
from inspector.fixes.base.fix import AnyStep, FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection
from inspector.report.command_options import folder_options, judged_options, source_options
from inspector.rules.find import FILE_NAME
from inspector.sequence.discovery.settings import Settings


def next_steps(result: FolderInspection, folder: Path, settings: Settings) -> list[str]:
    """Suggest the command that corrects the errors and warnings, previews their correction, or shows them.

    The command is followed by a line about its effect. The result is empty if there are no errors or warnings.
    """
    found = _serious(result)
    if not found:
        return []
    kinds = _planned_kinds(result)
    command = fix_command(folder, settings, free_name(folder))
    if not kinds and any(finding.fixes for finding in found):
        return [f"next: {command} --all --dry-run", _REFUSED]
    if not kinds:
        return [
            f"next: meshqc {quoted(folder)}",
            "      (there is no fix for these findings; view them in the terminal UI)",
        ]
    if kinds == {FixKind.LOSSLESS}:
        return [f"next: {command}", "      (lossless fixes only)"]
    if FixKind.LOSSLESS in kinds:
        return [f"next: {command}", "      (lossless fixes; --all also tries the other kinds; preview with --dry-run)"]
    return [f"next: {command} --all --dry-run", _PREVIEW]


_PREVIEW = "      (tries fixes of all kinds, and writes nothing)"
_REFUSED = "      (shows why the fixes for these findings are refused)"


def _serious(result: FolderInspection) -> list[Finding]:
    return [finding for one in result.inspections for finding in serious(one)]


def _planned_kinds(result: FolderInspection) -> set[FixKind]:
    """Return the kinds of the fixes that would not be refused.

    A kind that would not change the suggestion may be missing.
    """
    kinds: set[FixKind] = set()
    for step in _planned_steps(result):
        kinds.add(fix_by_id(step.fix).kind)
        if len(kinds) > 1 and FixKind.LOSSLESS in kinds:
            break
    return kinds


def _planned_steps(result: FolderInspection) -> Iterator[AnyStep]:
    """Plan all fixes, one sequence after the other, and yield the steps that are not refused.

    Planning ends at the first sequence that can't be planned.
    """
    from inspector.delivery.drafting import untried_parts

    with suppress(MeshqcError):
        for part in untried_parts(result, all_choices(result)):
            yield from part.steps


def steps_after_compare(folder: Path, other: Path, sequences: Set[str]) -> list[str]:
    """Suggest commands that apply the rules and the saved plans of the previous export (`other`) to this export."""
    from inspector.delivery.plan_file import plans_of

    steps = []
    rules = other / FILE_NAME
    if rules.is_file() and not (folder / FILE_NAME).exists():
        steps.append(f"meshqc check {quoted(folder)} --rules {quoted(rules)}")
    for path, _ in plans_of(other, sequences):
        steps.append(f"meshqc fix {quoted(folder)} --output {quoted(free_name(folder))} --plan {quoted(path)}")
    return [f"{'next:' if number == 0 else '  or:'} {step}" for number, step in enumerate(steps)]


def check_command(folder: Path, settings: Settings) -> str:
    """Return the command that checks a folder, with the given statements and rules."""
    return " ".join([f"meshqc check {quoted(folder)}", *judged_options(folder, settings)])


def in_terminal_ui(folder: Path, settings: Settings) -> str:
    """Return the command that shows a folder in the terminal UI. The command has options for the given statements."""
    return " ".join([f"meshqc {quoted(folder)}", *folder_options(settings)])


def fix_command(folder: Path, settings: Settings, out: Path) -> str:
    """Return the command that corrects a folder and writes the result to `out`, with the given statements and rules."""
    start = f"meshqc fix {quoted(folder)} --output {quoted(out)}"
    return " ".join([start, *judged_options(folder, settings), *source_options(settings)])
