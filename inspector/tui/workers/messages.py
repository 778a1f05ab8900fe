"""The messages that worker threads post to the app. The threads never use widgets themselves."""

from __future__ import annotations

from fractions import Fraction

from textual.message import Message

from inspector.delivery.deliver import Delivery
from inspector.delivery.plan import Plan
from inspector.inspection.inspection import FolderInspection
from inspector.report.frame_rows import SequenceView
from inspector.rules.model import Rules
from inspector.tui.staged_fixes import Choices


class Read(Message):
    """The sequences as far as they have been read.

    Args:
        views: A view of each sequence.
        words: Progress in parts, which are separated by two spaces. The most important part comes first.
        checking: Whether all frames have been read and the checks are running.
    """

    def __init__(self, views: tuple[SequenceView, ...], words: str, *, checking: bool = False) -> None:
        super().__init__()
        self.views = views
        self.words = words
        self.checking = checking


class Checked(Message):
    """The folder, completely read and checked."""

    def __init__(self, inspection: FolderInspection, views: tuple[SequenceView, ...]) -> None:
        super().__init__()
        self.inspection = inspection
        self.views = views


class Alarm(Message):
    """The description of a bad frame of an export. The parts of the description are separated by two spaces. The most
    important part comes first."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.words = words


class Stopped(Message):
    """Reading, watching or checking the folder ended without a result.

    Args:
        fatal: Whether reading or watching the folder failed.
    """

    def __init__(self, words: str, fatal: bool = False) -> None:
        super().__init__()
        self.words = words
        self.fatal = fatal


class Planned(Message):
    """A plan that was made from choices.

    Attributes:
        asked: The choices for which a plan was requested.
        choices: The choices from which the plan was made.
        plan: The plan.
        dropped: For each choice that was dropped, its fix and the reason, in words.
    """

    def __init__(self, asked: Choices, choices: Choices, plan: Plan, dropped: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.asked = asked
        self.dropped = dropped
        self.choices = choices
        self.plan = plan


class Planning(Message):
    """Progress of a plan."""

    def __init__(self, done: int, of: int) -> None:
        super().__init__()
        self.done = done
        self.of = of


class _NoPlan(Message):
    """Why no plan was made from the choices."""

    def __init__(self, choices: Choices, reason: str) -> None:
        super().__init__()
        self.choices = choices
        self.reason = reason


class PlanRefused(_NoPlan):
    """A chosen fix was refused, so no plan was made from the choices."""


class NotPlanned(_NoPlan):
    """The choices were not refused, but no plan could be made from them, for example because a source file changed."""


class Writing(Message):
    """Progress of writing."""

    def __init__(self, what: str, done: int, of: int) -> None:
        super().__init__()
        self.what = what
        self.done = done
        self.of = of


class Written(Message):
    """The corrected folder has been written and verified."""

    def __init__(self, delivery: Delivery) -> None:
        super().__init__()
        self.delivery = delivery


class NotWritten(Message):
    """Why the corrected folder was not written."""

    def __init__(self, reason: str) -> None:
        super().__init__()
        self.reason = reason


class ReferenceChosen(Message):
    """The user wants all frames to be compared with another reference frame."""

    def __init__(self, number: Fraction) -> None:
        super().__init__()
        self.number = number


class Unstaged(Message):
    """The user wants a fix to be removed from the plan of a sequence."""

    def __init__(self, fix: str, key: str) -> None:
        super().__init__()
        self.fix = fix
        self.key = key


class FixesTaken(Message):
    """The user wants the fixes of another export's plan to be staged."""

    def __init__(self, choices: Choices) -> None:
        super().__init__()
        self.choices = choices


class RulesTaken(Message):
    """The user wants the folder to be checked against another export's delivery rules."""

    def __init__(self, rules: Rules) -> None:
        super().__init__()
        self.rules = rules
