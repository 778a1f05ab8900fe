"""Compare the current export with the previous export, in a thread."""

from __future__ import annotations

import re
from contextlib import closing
from dataclasses import replace
from pathlib import Path

from textual.message import Message

from inspector.delivery.plan_file import plans_of
from inspector.errors import Cancelled, MeshqcError, unexpected
from inspector.inspection.export_change import SequenceChange, export_changes
from inspector.inspection.folder_rules import load_rules
from inspector.inspection.inspection import FolderInspection, inspect_folder
from inspector.names import counted
from inspector.rules.find import FILE_NAME
from inspector.rules.model import Rules
from inspector.sequence.run.cache import FactsCache
from inspector.sequence.run.scan import Cancel
from inspector.tui import saved_state
from inspector.tui.staged_fixes import Choices
from inspector.tui.workers.engine import ENGINE, Pace, Post
from inspector.user_folders import user_folder

_NUMBER = re.compile(r"\d+(?=\D*\Z)")


def export_before(root: Path) -> Path | None:
    """Find the folder of the previous export.

    It is beside `root`, and its name differs from that of `root` only in the last number, which is lower. For
    `manta_v004`, it is `manta_v003` or, if that folder doesn't exist, `manta_v002`, and so on.

    Returns:
        The folder; None if there is none.
    """
    number = _NUMBER.search(root.name)
    if number is None:
        return None
    alike = re.compile(f"{re.escape(root.name[: number.start()])}(\\d+){re.escape(root.name[number.end() :])}")
    try:
        named = [(int(match[1]), path) for path in root.parent.iterdir() if (match := alike.fullmatch(path.name))]
    except OSError:
        return None
    return max(((at, path) for at, path in named if at < int(number[0]) and path.is_dir()), default=(0, None))[1]


class Comparing(Message):
    """Progress of the comparison, in words."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.words = words


class Compared(Message):
    """The result of the comparison.

    Attributes:
        changes: For each sequence, what has changed since the previous export.
        choices: The fixes that were planned or staged for the previous export; empty if there are none.
        plan: Where the fixes were found, in words; empty if there are none.
        rules: The delivery rules of the previous export, if it has its own and the current export has none; otherwise
            None.
    """

    def __init__(self, changes: tuple[SequenceChange, ...], choices: Choices, plan: str, rules: Rules | None) -> None:
        super().__init__()
        self.changes = changes
        self.choices = choices
        self.plan = plan
        self.rules = rules


class NotCompared(Message):
    """Why the exports could not be compared."""

    def __init__(self, reason: str) -> None:
        super().__init__()
        self.reason = reason


def compare(after: FolderInspection, other: Path, post: Post, cancelled: Cancel) -> None:
    """Inspect the previous export under the same settings, and compare the current export with it.

    Post the message `Comparing` repeatedly, then `Compared` or `NotCompared`.
    """
    pace = Pace()
    read = 0

    def show(words: str) -> None:
        if cancelled():
            raise Cancelled
        if pace.due():
            post(Comparing(words))

    def measured(*_: object) -> None:
        nonlocal read
        read += 1
        show(f"reading {other.name}, {counted(read, 'file')}")

    try:
        with ENGINE, closing(FactsCache(user_folder("cache"))) as cache:
            before = inspect_folder(other, after.settings, measured, cancelled, cache=cache)
            if not before.inspections:
                raise MeshqcError("no sequence of numbered mesh files in that folder")
            changes = export_changes(before, after, show)
            choices, plan = _plan(after, other)
            post(Compared(changes, choices, plan, _rules(after, other)))
    except Cancelled:
        post(NotCompared("stopped"))
    except MeshqcError as error:
        post(NotCompared(str(error)))
    except Exception as error:  # the session must go on
        post(NotCompared(unexpected(error)))


def _plan(after: FolderInspection, other: Path) -> tuple[Choices, str]:
    """Find the fixes that were planned or staged for the previous export.

    If a plan was saved for the previous export, return the fixes of this plan. Otherwise, return the fixes that were
    staged when the previous export was last open.

    If the current export has only one sequence and all fixes are for one sequence, the fixes are assigned to the
    sequence of the current export, even if the names of the two sequences differ.

    Returns:
        The fixes, and where they were found, in words. Both are empty if there are no fixes.
    """
    keys = {one.sequence.key for one in after.inspections}
    saved = plans_of(other, keys)
    choices = saved[0][1].choices if saved else saved_state.load(other.resolve()).choices
    if len(keys) == len({one.sequence for one in choices}) == 1:
        choices = tuple(replace(one, sequence=key) for one in choices for key in keys)
    words = saved[0][0].name if saved else "as staged there"
    return choices, words if choices else ""


def _rules(after: FolderInspection, other: Path) -> Rules | None:
    file = other / FILE_NAME
    return load_rules(other, file) if file.is_file() and after.settings.rules.file is None else None
