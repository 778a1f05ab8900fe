"""What the working threads tell the screen. They touch no widget."""

from __future__ import annotations

from fractions import Fraction

from textual.message import Message

from inspector.delivery.deliver import Delivery
from inspector.delivery.plan import Plan
from inspector.inspection.inspection import FolderInspection
from inspector.report.frame_rows import SequenceView
from inspector.rules.model import Rules
from inspector.tui.staging import Choices


class Read(Message):
    """The sequences as far as they are read. words: in parts, the most important first, two blanks between. checking:
    all are read, the checks run."""

    def __init__(self, views: tuple[SequenceView, ...], words: str, *, checking: bool = False) -> None:
        super().__init__()
        self.views = views
        self.words = words
        self.checking = checking


class Checked(Message):
    """The folder, read and checked whole."""

    def __init__(self, inspection: FolderInspection, views: tuple[SequenceView, ...]) -> None:
        super().__init__()
        self.inspection = inspection
        self.views = views


class Alarm(Message):
    """The first frame of an export with something wrong: in parts, the most important first, two blanks between."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self.words = words


class Stopped(Message):
    """Reading, checking or planning ended without a result: stopped by the user, or `fatal`."""

    def __init__(self, words: str, fatal: bool = False) -> None:
        super().__init__()
        self.words = words
        self.fatal = fatal


class Planned(Message):
    """A plan.

    Attributes:
        asked: The choices that a plan was wanted for.
        choices: Those of them that it holds.
        dropped: Why the others could not be kept.
    """

    def __init__(self, asked: Choices, choices: Choices, plan: Plan, dropped: tuple[str, ...] = ()) -> None:
        super().__init__()
        self.asked = asked
        self.dropped = dropped
        self.choices = choices
        self.plan = plan


class Planning(Message):
    """How many frames the plan was tried on, of how many."""

    def __init__(self, done: int, of: int) -> None:
        super().__init__()
        self.done = done
        self.of = of


class PlanRefused(Message):
    """No plan for these choices, and why."""

    def __init__(self, choices: Choices, reason: str) -> None:
        super().__init__()
        self.choices = choices
        self.reason = reason


class Writing(Message):
    """How far the writing is."""

    def __init__(self, what: str, done: int, of: int) -> None:
        super().__init__()
        self.what = what
        self.done = done
        self.of = of


class Written(Message):
    """The corrected folder stands and is proven."""

    def __init__(self, delivery: Delivery) -> None:
        super().__init__()
        self.delivery = delivery


class NotWritten(Message):
    """It does not stand, and why."""

    def __init__(self, reason: str) -> None:
        super().__init__()
        self.reason = reason


class ReferenceChosen(Message):
    """The user wants all frames compared with this one."""

    def __init__(self, number: Fraction) -> None:
        super().__init__()
        self.number = number


class Unstaged(Message):
    """The user takes a fix out of the plan of a sequence."""

    def __init__(self, fix: str, key: str) -> None:
        super().__init__()
        self.fix = fix
        self.key = key


class FixesTaken(Message):
    """The user wants the fixes of another export's plan staged."""

    def __init__(self, choices: Choices) -> None:
        super().__init__()
        self.choices = choices


class RulesTaken(Message):
    """The user wants the folder checked by another export's delivery rules."""

    def __init__(self, rules: Rules) -> None:
        super().__init__()
        self.rules = rules
