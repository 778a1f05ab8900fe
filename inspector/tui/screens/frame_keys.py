"""Keys for going to another frame: by step, number, search or mark. They are the same on every screen with frames."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.search import Stop, matches, next_stop, problems


class FrameKeys(SessionScreen):
    """A screen with frames. Subclasses define the position of the cursor and how to go to another frame."""

    def here(self) -> tuple[SequenceView, int] | None:
        """Return the current view and the row under the cursor; None if there is no frame."""
        raise NotImplementedError

    def go_to_row(self, row: int, *, moving: bool = False, choose: bool = True) -> None:
        """Show another frame.

        Args:
            row: Row of the view.
            moving: Whether another frame is likely to follow immediately.
            choose: Whether to choose a finding of the frame, if the chosen finding isn't on that frame.
        """
        raise NotImplementedError

    def follow(self) -> None:
        here, frame = self.here(), self.session.selection.frame
        row = None if here is None or frame is None else here[0].row_at(frame)
        if here is not None and row is not None and row != here[1]:
            self.go_to_row(row)

    def stop_playback(self) -> None:
        """Stop playback. Do nothing on a screen that can't play the sequence."""

    def shown_rows(self, view: SequenceView) -> Sequence[int]:
        """Return the rows of the view in the order in which they are shown."""
        return range(len(view.rows))

    def action_step(self, frames: int) -> None:
        """Step by a number of frames; after the last frame comes the first."""
        if (here := self.here()) is not None:
            self.stop_playback()
            self.go_to_row((here[1] + frames) % len(here[0].rows), moving=True)

    def action_edge(self, side: int) -> None:
        if (here := self.here()) is not None:
            self.stop_playback()
            self.go_to_row(0 if side < 0 else len(here[0].rows) - 1)

    async def action_go(self) -> None:
        def done(values: Values | None) -> None:
            if values:
                self.action_go_to(values["frame"])

        await self.app.push_screen(Prompt(self.glyphs, "go to a frame", [Field("frame")], _number_fault), done)

    def action_go_to(self, text: str) -> None:
        """Go to the frame with the typed number or, if there is no such frame, to the nearest frame."""
        here, asked = self.here(), frame_number(text)
        view = self.session.view if here is None else here[0]
        if view is None or not view.rows or asked is None:
            self.say("no frame to go to")
            return
        self.stop_playback()
        row = _nearest_row(view, asked)
        found = view.rows[row].number
        self.go_to_row(row)
        if found != asked:
            self.say(f"no frame {frame_text(asked)}; went to the nearest frame, {frame_text(found)}")

    # Search

    async def action_search(self) -> None:
        def done(values: Values | None) -> None:
            if values is None:
                return
            self.session.search = values["find"]
            if values["find"]:
                self.action_next_match(1)
            else:
                self.say("search ended; n: next problem")

        fields = [Field("find", "in findings, file names and materials; leave blank to end the search")]
        await self.app.push_screen(Prompt(self.glyphs, "find", fields), done)

    def action_same_check(self) -> None:
        """Search for all findings of the check to which the chosen finding belongs."""
        finding = self.session.finding
        if finding is None:
            self.say("no finding is chosen")
            return
        self.session.search = finding.check
        self.action_next_match(1)

    def action_next_match(self, step: int) -> None:
        """Go to the next (`step` 1) or the previous (-1) match of the search. Without a search, go to a problem
        instead."""
        here, text = self.here(), self.session.search
        if here is None or not text:
            self.action_problem(step)
            return
        found = matches(here[0], self.shown_rows(here[0]), text)
        side = "later" if step > 0 else "earlier"
        none = f"no {side} match for {text} ({len(found):,} in total)" if found else f"no match for {text}"
        at = self._go_to_stop(found, step, f"{none}; /: change or end the search")
        if at is not None:
            self.say(f"match {at + 1:,} of {len(found):,} for {text}; n: next, N: previous, /: new search")

    def action_problem(self, step: int) -> None:
        """Go to the next (`step` 1) or the previous (-1) row at which an error or a warning begins."""
        if (here := self.here()) is not None:
            none = (
                "no later problem in this sequence; press [ for the previous problem"
                if step > 0
                else "no earlier problem in this sequence; press ] for the next problem"
            )
            none = none if here[0].inspection is not None else "problems are listed once the frames are checked"
            self._go_to_stop(problems(here[0], self.shown_rows(here[0])), step, none)

    def _go_to_stop(self, found: Sequence[Stop], step: int, none: str) -> int | None:
        """Go to the next (`step` 1) or the previous (-1) match or problem in `found`. If it has a finding, choose that
        finding.

        Return the index of the match or problem in `found`. If there is no match or problem in that direction, show
        `none` as a message, and return None.
        """
        here = self.here()
        if here is None:
            return None
        self.stop_playback()
        view, row = here
        order = self.shown_rows(view)
        position = order.index(row) if row in order else 0
        stop = next_stop(found, position, self.session.selection.finding, step)
        if stop is None:
            self.say(none)
            return None
        if stop[1] >= 0:
            self.session.selection.finding = stop[1]
        self.go_to_row(order[stop[0]])
        return found.index(stop)

    # Marks

    def action_mark(self) -> None:
        """Mark the frame under the cursor, or remove its mark."""
        if (here := self.here()) is None:
            return
        marked = self.session.mark(*here)
        number = frame_text(here[0].rows[here[1]].number)
        self.session_changed()
        self.say(f"marked frame {number}" if marked else f"unmarked frame {number}")

    def action_next_mark(self) -> None:
        here = self.here()
        row = None if here is None else self.session.next_mark(*here)
        if row is None:
            self.say("no frame is marked; m: mark this frame")
        else:
            self.stop_playback()
            self.go_to_row(row)

    def action_back(self) -> None:
        self.stop_playback()
        super().action_back()


def frame_number(text: str) -> Fraction | None:
    """Convert a typed frame number; return None for any other text, and for more than 20 characters."""
    if not text.isascii() or len(text) > 20 or "/" in text or "e" in text.lower():
        return None
    try:
        return Fraction(text)
    except ValueError:
        return None


def _nearest_row(view: SequenceView, number: Fraction) -> int:
    """Return the first row with the frame number nearest to `number`; of two numbers equally near, the larger is used.

    The view must have at least one row.
    """
    row = view.row_of_number(number)
    after, before = view.rows[row].number, view.rows[max(0, row - 1)].number
    return view.row_of_number(before) if abs(number - before) < abs(after - number) else row


def _number_fault(values: Values) -> str | None:
    return (
        None
        if frame_number(values["frame"]) is not None
        else "type a frame number such as 118, or a sub-frame such as 1.5"
    )
