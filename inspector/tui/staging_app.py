"""Choosing fixes: each change of the choices is worked out as a plan, in a thread."""

from __future__ import annotations

from functools import partial

from inspector.delivery.plan import lossless_choices
from inspector.tui.drawers.parameters import parameter_fields, parameter_values
from inspector.tui.drawers.prompt import Prompt, Values
from inspector.tui.screens.plan_screen import PlanScreen
from inspector.tui.session_app import SessionApp
from inspector.tui.staging import Choices, stage, take_out, with_exact, without
from inspector.tui.workers import engine
from inspector.tui.workers.messages import Planned, PlanRefused, TakenOut


class StagingApp(SessionApp):
    """A refusal leaves the choices as they were before, and is shown where the fix was chosen."""

    def change_choices(self, choices: Choices, tried: str = "") -> None:
        """Make these the wanted choices and have a plan made of them. tried: the fix that this is about."""
        session = self.session
        session.choices, session.tried = choices, tried
        session.refused.clear()
        if not choices or session.inspection is None:
            session.accepted, session.plan = choices, None
        else:
            wanted = partial(self._wanted, choices)
            self.work(partial(engine.plan, session.inspection, choices, self.post_message, wanted))
        self.tell()

    def _wanted(self, choices: Choices) -> bool:
        return self.session.choices is choices

    def on_planned(self, message: Planned) -> None:
        if self._wanted(message.choices):
            self.session.accepted, self.session.plan = message.choices, message.plan
            self.keep()
            self.tell()

    def on_plan_refused(self, message: PlanRefused) -> None:
        session = self.session
        if self._wanted(message.choices):
            session.choices = session.accepted
            session.refused[session.tried] = message.reason
            self.tell()
            self.say(f"refused: {message.reason}")

    async def action_fix(self, number: int) -> None:
        """Stage the fix with this number, or take it out."""
        session = self.session
        offers, finding, key = session.offers(), session.finding, session.key
        if finding is None or key is None or number > len(offers):
            self.say(self.no_fixes or "no fix with this number here")
            return
        fix = offers[number - 1].fix

        def choose(values: Values | None) -> None:
            if values is not None:
                given = parameter_values(values)
                self.change_choices(stage(session.choices, fix, finding, key, given), fix.id)

        if offers[number - 1].staged:
            self.change_choices(take_out(session.choices, offers[number - 1], finding, key))
        elif fix.parameters:
            title = f"{fix.title}: what is left empty is worked out"
            await self.push_screen(Prompt(self.glyphs, title, parameter_fields(fix)), choose)
        else:
            choose({})

    def action_stage_exact(self) -> None:
        session = self.session
        if session.inspection is None:
            self.say(self.no_fixes)
            return
        choices = with_exact(session.choices, lossless_choices(session.inspection))
        if choices == session.choices:
            self.say("every exact fix is staged already" if choices else "no finding that an exact fix answers")
        else:
            self.change_choices(choices)

    async def action_plan(self) -> None:
        await self.push_screen(PlanScreen(self.session, self.glyphs))

    def on_taken_out(self, message: TakenOut) -> None:
        self.change_choices(without(self.session.choices, message.fix, message.key))
