"""Stage fixes. Whenever the choices change, a thread makes a new plan."""

from __future__ import annotations

from functools import partial
from pathlib import Path

from inspector.delivery.choices import lossless_choices
from inspector.delivery.plan import Plan
from inspector.fixes.base.fix import AnyFix, FixKind
from inspector.fixes.base.registry import fix_by_id
from inspector.inspection.inspection import FolderInspection
from inspector.tui import saved_state
from inspector.tui.actions.session_app import SessionApp
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.screens.plan_screen import PlanScreen
from inspector.tui.session import Undo
from inspector.tui.staged_fixes import Choices, stage, take_out, with_lossless, without
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Checked, FixesTaken, NotPlanned, Planned, Planning, PlanRefused, Unstaged

_UNDO_STEPS = 100
_STAGING = "staging every lossless fix; p: plan, u: undo"  # until the plan is made


class StagingPart(SessionApp):
    """The part of the app that stages fixes, and makes a plan from them in a thread."""

    _typed: Values | None = None
    """The typed parameters of the fix that was added last; empty or None if none were typed."""
    _choices_before: Choices = ()
    _every_lossless: Choices | None = None
    """The choices that resulted from staging every lossless fix, until their plan has been reported; then None."""
    _step: Undo | None = None
    """The entry in the undo list for the last change; None if the change can't be undone."""

    def on_checked(self, message: Checked) -> None:
        """Plan the staged fixes again or, if no fix is staged, the fixes that were staged when the folder was last
        open."""
        session = self.session
        previous, session.previous = session.previous, saved_state.SavedState()
        choices = session.staged.choices or previous.choices
        if choices:
            self._plan_again(choices, message.inspection)
            self.show_session()
        if previous.choices:
            session.undo.append(Undo("restoring the staged fixes", partial(self.change_choices, ())))
            self.call_after_refresh(self.say, "your staged fixes are restored; p: plan, u: undo")

    def change_choices(self, choices: Choices, tried: str = "", *, undo: str = "") -> None:
        """Set the choices, and start making a plan from them.

        Args:
            choices: All choices.
            tried: Id of the fix that is being added; empty if no fix is added. If the plan is refused, the reason is
                shown for this fix.
            undo: Name of the change in the undo list; empty for a change that can't be undone.
        """
        staged = self.session.staged
        self._choices_before, self._step = staged.choices, None
        if undo:
            self._step = Undo(undo, partial(self.change_choices, staged.choices))
            self.session.undo.append(self._step)
            del self.session.undo[:-_UNDO_STEPS]
        staged.choices, staged.tried = choices, tried
        staged.refused.clear()
        staged.progress = None
        self._plan(choices)
        self.show_session()

    def _plan(self, choices: Choices) -> None:
        staged, inspection = self.session.staged, self.session.inspection
        if not choices or inspection is None:
            staged.accepted, staged.plan, staged.fault = choices, None, ""
        else:
            self.work(partial(engine.plan, inspection, choices, self.post_message, partial(self._wanted, choices)))

    def _plan_again(self, choices: Choices, inspection: FolderInspection | None) -> None:
        """Set choices that were staged before, and start making a plan from those that still apply.

        If `inspection` is None (the folder is being read), the plan is made after the checks.
        """
        self.session.staged.choices, self.session.staged.accepted = choices, ()
        if inspection is not None:
            wanted = partial(self._wanted, choices)
            self.work(partial(engine.plan_again, inspection, choices, self.post_message, wanted))

    def _wanted(self, choices: Choices) -> bool:
        return self.session.staged.choices is choices and not self.leaving

    def on_planning(self, message: Planning) -> None:
        self.session.staged.progress = message.done, message.of
        for screen in self.session_screens:
            if isinstance(screen, PlanScreen):
                screen.session_changed()

    def on_planned(self, message: Planned) -> None:
        staged = self.session.staged
        if not self._wanted(message.asked):
            return
        staged.choices = staged.accepted = message.choices
        staged.plan, staged.fault = message.plan if message.choices else None, ""
        self.save_state()
        self.show_session()
        if message.dropped:
            self.say(f"no longer staged: {'; '.join(message.dropped)}")
        elif message.asked is self._every_lossless:
            self.say(_lossless_words(message.plan))
        self._every_lossless = None

    def on_not_planned(self, message: NotPlanned) -> None:
        """Keep the choices. Their plan is made when the folder has been read again."""
        staged = self.session.staged
        if not self._wanted(message.choices):
            return
        staged.accepted, staged.plan, staged.fault = message.choices, None, message.reason
        self.save_state()
        self.show_session()
        self.say(f"the fixes stay staged, but no plan can be made: {message.reason}")

    async def on_plan_refused(self, message: PlanRefused) -> None:
        session, staged = self.session, self.session.staged
        if not self._wanted(message.choices):
            return
        staged.refused[staged.tried] = message.reason
        if self._step in session.undo:  # it isn't the newest step if something else was changed in the meantime
            session.undo.remove(self._step)
        if self._choices_before == staged.accepted:
            staged.choices = staged.accepted
        else:  # the refused change replaced choices whose plan had not been made yet
            self._plan_again(self._choices_before, session.inspection)
        self.show_session()
        typed, self._typed = self._typed, None
        offer = next((offer for offer in session.offers() if offer.fix.id == staged.tried), None)
        if typed and offer is not None:
            await self._ask_parameters(offer.fix, typed, message.reason)
        else:
            self.say(f"refused: {message.reason}")

    async def action_fix(self, number: int) -> None:
        """Stage a fix for the chosen finding, or unstage it if it is staged. Fixes are numbered from 1, as on the
        card."""
        session = self.session
        offers, finding, key = session.offers(), session.finding, session.key
        if finding is None or key is None or number > len(offers):
            self.say(self.session.no_fixes or "there is no fix with this number")
            return
        offer = offers[number - 1]
        if offer.staged:
            choices = take_out(session.staged.choices, offer, finding, key)
            self.change_choices(choices, undo=f"unstaging of {offer.fix.title}")
        elif offer.fix.parameters:
            await self._ask_parameters(offer.fix, {}, "")
        else:
            self._stage(offer.fix, {})

    async def _ask_parameters(self, fix: AnyFix, typed: Values, refused: str) -> None:
        def done(values: Values | None) -> None:
            if values is not None:
                self._stage(fix, values)

        def fault(values: Values) -> str | None:
            missing = [name for name in fix.parameters if name in fix.required and not values[name]]
            return f"{missing[0]}: a value is required" if missing else None

        fields = [Field(name, meaning, typed.get(name, "")) for name, meaning in fix.described.items()]
        note = f"refused: {refused}" if refused else ""
        paths = Path.cwd() if fix.path else None
        prompt = Prompt(self.glyphs, fix.title, fields, fault, note=note, paths=paths, files=bool(fix.path))
        await self.push_screen(prompt, done)

    def _stage(self, fix: AnyFix, values: Values) -> None:
        session = self.session
        if session.finding is None or session.key is None:
            return
        self._typed = values
        given = {name: text for name, text in values.items() if text}
        choices = stage(session.staged.choices, fix, session.finding, session.key, given)
        self.change_choices(choices, fix.id, undo=f"staging of {fix.title}")

    def action_stage_lossless(self) -> None:
        session = self.session
        if session.inspection is None:
            self.say(self.session.no_fixes)
            return
        lossless = lossless_choices(session.inspection)
        choices = with_lossless(session.staged.choices, lossless)
        if not lossless:
            others = any(finding.fixes for view in session.views for finding in view.findings)
            more = "; press 1-9 to stage a finding's fix" if others else ""
            self.say(f"no finding has a lossless fix{more}")
        elif choices != session.staged.choices:
            self._every_lossless = choices
            self.change_choices(choices, undo="staging of every lossless fix")
            self.say(_STAGING)
        elif session.staged.planning:
            self.say(_STAGING)
        else:
            plan = session.staged.plan
            self.say(_lossless_words(plan, "already ") if plan else "every lossless fix is already staged")

    async def action_plan(self) -> None:
        await self.push_screen(PlanScreen(self.session, self.glyphs))

    def on_fixes_taken(self, message: FixesTaken) -> None:
        self.change_choices(message.choices, undo="staging of the previous export's fixes")

    def on_unstaged(self, message: Unstaged) -> None:
        choices = without(self.session.staged.choices, message.fix, message.key)
        self.change_choices(choices, undo=f"unstaging of {fix_by_id(message.fix).title}")


def _lossless_words(plan: Plan, already: str = "") -> str:
    """Return a message that reports whether all lossless fixes are staged, some are refused, or none can be applied. If
    none can be applied, the message contains the reasons.

    Args:
        plan: The plan made from choices that include every lossless fix.
        already: The word "already" and a space if the lossless fixes were staged before; otherwise, an empty string.
    """
    reasons = dict.fromkeys(one.reason for part in plan.sequences for one in part.refused if _is_lossless(one.fix))
    if not any(_is_lossless(step.fix) for step in plan.steps):
        return f"no lossless fix can be applied: {'; '.join(reasons) or 'none of them changes anything'}"
    some, rest = ("lossless fixes are", ", some are refused") if reasons else ("every lossless fix is", "")
    return f"{some} {already}staged{rest}; p: plan, w: write, u: undo"


def _is_lossless(fix: str) -> bool:
    return fix_by_id(fix).kind is FixKind.LOSSLESS
