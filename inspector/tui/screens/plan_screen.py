"""The staged plan: the steps in the order in which they are applied, and what each step changes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from rich.cells import cell_len
from rich.segment import Segment
from textual.app import ComposeResult

from inspector.delivery.plan import Plan
from inspector.fixes.base.registry import fix_by_id
from inspector.names import counted
from inspector.sequence.discovery.discover import Sequence as FrameSequence
from inspector.sequence.discovery.frame_ranges import frame_ranges
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.session import Session
from inspector.tui.widgets.card import Card, add_preview
from inspector.tui.widgets.cursor_list import CursorList
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.text_page import Page
from inspector.tui.workers.messages import Unstaged

REFUSED = "refused"


@dataclass(frozen=True, slots=True)
class PlanLine:
    """A step of a plan, or a refusal.

    Attributes:
        fix: Id of the fix.
        key: Key of the sequence.
        pattern: Pattern of the sequence.
        state: The kind of the fix, or REFUSED.
        frames: Number of frames, in words.
        card: The description of the step, or the reason for the refusal.
    """

    fix: str
    key: str
    pattern: str
    state: str
    frames: str
    card: Card


def plan_lines(plan: Plan) -> list[PlanLine]:
    """Make the lines of a plan: for each sequence, its steps in the order of application, then its refusals."""
    lines = []
    for part in plan.sequences:
        sequence = part.inspection.sequence
        pattern = sequence.pattern.display
        for step in part.steps:
            fix = fix_by_id(step.fix)
            card = Card()
            card.add(fix.title + ":", step.summary)
            if fix.cost:
                card.add("cost:", fix.cost)
            _add_frames(card, step.frames, sequence)
            add_preview(card, step, " ")
            lines.append(PlanLine(step.fix, part.key, pattern, fix.kind.value, _count(step.frames), card))
        for refused in part.refused:
            card = Card()
            card.add("refused:", refused.reason)
            _add_frames(card, refused.frames, sequence)
            lines.append(PlanLine(refused.fix, part.key, pattern, REFUSED, _count(refused.frames), card))
    return lines


def _add_frames(card: Card, frames: Sequence[Fraction], sequence: FrameSequence) -> None:
    card.add("frame" if len(frames) == 1 else "frames", frame_ranges(frames, sequence.step) or "all")


def _count(frames: Sequence[Fraction]) -> str:
    return counted(len(frames), "frame") if frames else "all frames"


_BAR = 20  # cells


class PlanList(CursorList):
    """The lines of a plan."""

    def __init__(self, glyphs: Glyphs) -> None:
        super().__init__(glyphs)
        self.lines: list[PlanLine] = []
        self._staged = False

    def show(self, lines: list[PlanLine], *, staged: bool) -> None:
        """Show new lines. If fixes are staged, an empty list means that the plan hasn't been made yet."""
        self.lines, self._staged = lines, staged
        self.rows_changed()

    def row_count(self) -> int:
        return len(self.lines)

    def empty(self) -> str:
        return (
            "there is no plan yet"
            if self._staged
            else "nothing is staged; e: stage every lossless fix, 1-9: stage one fix"
        )

    def row(self, at: int, width: int) -> list[Segment]:
        line = self.lines[at]
        words = f"{line.state:<9} {fix_by_id(line.fix).title}"
        sequences = {one.pattern for one in self.lines}
        tails = [f"  {line.frames}  {line.pattern}"] if len(sequences) > 1 else []
        tails += [f"  {line.frames}", ""]  # the words are the last to be cut
        tail = next((one for one in tails if len(words) + cell_len(self.glyphs.text(one)) <= width), "")
        words_width = width - cell_len(self.glyphs.text(tail))
        return [Segment(self.glyphs.fit(words, words_width)), Segment(self.glyphs.text(tail))]


class PlanScreen(SessionScreen):
    """A screen that shows the plan. The key `x` removes the step under the cursor from the plan."""

    BINDINGS = keys.bindings(keys.PLAN)

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, id="plan-rule")
        yield PlanList(self.glyphs)
        yield (rule := Rule(self.glyphs, "what it does"))
        yield Page(self.glyphs, rule, more="tab, arrows: more", id="step")
        yield KeyFooter(keys.PLAN)

    def __init__(self, session: Session, glyphs: Glyphs) -> None:
        super().__init__(session, glyphs)
        self._plan: Plan | None = None

    def on_mount(self) -> None:
        self.session_changed()

    def session_changed(self) -> None:
        staged = self.session.staged
        rule = self.query_one("#plan-rule", Rule)
        steps = len(staged.plan.steps) if staged.plan else 0
        rule.title = f"plan: {counted(steps, 'step')}, {self._state(steps)}"
        rule.note = "; ".join(staged.refused.values())
        if staged.plan is not self._plan or staged.plan is None:
            self._plan = staged.plan
            self.query_one(PlanList).show(plan_lines(staged.plan) if staged.plan else [], staged=bool(staged.choices))
        self._show_line()

    def _state(self, steps: int) -> str:
        staged = self.session.staged
        if staged.planning:
            return self._making()
        if staged.fault:
            return "not made"
        return "written" if steps and not staged.unwritten else "nothing is written yet"

    def _making(self) -> str:
        if (progress := self.session.staged.progress) is None:
            return "making the plan"
        return f"testing {self.glyphs.progress(*progress, _BAR)} {progress[0]:,} of {counted(progress[1], 'frame')}"

    def on_cursor_list_moved(self) -> None:
        self._show_line()

    def _show_line(self) -> None:
        plan = self.query_one(PlanList)
        if plan.lines:
            card = plan.lines[plan.cursor].card
        else:
            card = Card()
            staged = self.session.staged
            for reason in staged.refused.values():
                card.add("refused:", reason)
            if staged.fault and not staged.planning:
                card.add("not made:", staged.fault)
        self.query_one("#step", Page).show(card)

    def action_unstage(self) -> None:
        plan = self.query_one(PlanList)
        if not plan.lines:
            return
        line = plan.lines[plan.cursor]
        same = [one for one in plan.lines if (one.fix, one.key) == (line.fix, line.key) and one.state != REFUSED]
        if line.state == REFUSED and same:
            self.say("the fix was refused for these frames; to unstage it for other frames, go to its step")
        else:
            self.post_message(Unstaged(line.fix, line.key))
