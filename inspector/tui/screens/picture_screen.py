"""The common base of the viewer, the comparison and the UV map: a screen that shows one frame as a picture."""

from __future__ import annotations

from fractions import Fraction

from textual.app import ComposeResult

from inspector.delivery.plan import Plan
from inspector.errors import MeshqcError
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.settings import frame_text
from inspector.tui import keys
from inspector.tui.glyphs import Glyphs
from inspector.tui.keys import Key
from inspector.tui.pictures.cells import Cells
from inspector.tui.pictures.painter import NotPainted, Painted, Painter, PictureRequest
from inspector.tui.pictures.pair_scene import half
from inspector.tui.pictures.preview import Preview, PreviewReady, preview_of
from inspector.tui.pictures.scene import Source, source_of
from inspector.tui.screens.frame_keys import FrameKeys
from inspector.tui.session import Session
from inspector.tui.staged_fixes import stage
from inspector.tui.view_state import MapView, PictureView
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.overview import Overview
from inspector.tui.widgets.picture_pane import PicturePane
from inspector.tui.widgets.rule import Rule
from inspector.tui.workers import engine

_RULE = 8  # cells of the title row that its texts can't use
_LINK_LOOKS = 0.03  # seconds between checks whether another picture can be sent


class PictureScreen(FrameKeys):
    """A screen with a picture. Subclasses define the request for the picture, and describe how it is viewed.

    Attributes:
        how_viewed: How the picture is viewed. The settings of the viewer and of the UV map are kept after the screen is
            closed.
        source: The source of the frames.
        view: The sequence.
        row: Row of the current frame, to which the screen below also goes when this screen is closed.
        stopped_picture: The picture that waits until the previous picture has been sent; None if no picture waits.
        preview: The frames after a fix; None if they aren't shown.
        beside: Whether the frames before and after the fix are shown side by side.
    """

    how_viewed: PictureView | MapView

    KEYS: tuple[Key, ...] = ()
    flips = True
    """Whether the screen can also show the frame after a fix."""

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int) -> None:
        super().__init__(session, glyphs)
        self.source = source
        self.view = source.view
        self.row = row
        self.stopped_picture: Painted | None = None
        self.preview: Preview | None = None
        self.beside = False
        self._asked: object | None = None  # the preview that is being made
        self._plan: Plan | None = None  # the staged plan when the preview was requested

    def order(self, *, moving: bool = False) -> PictureRequest | None:
        """Return the request for the picture to draw now; None if there is nothing to draw."""
        raise NotImplementedError

    def state_words(self) -> str:
        """Return in words how the picture is viewed."""
        raise NotImplementedError

    @property
    def wants_fine_cells(self) -> bool:
        """Whether lines matter more than shades in the picture."""
        return False

    @property
    def no_words(self) -> str:
        """The text to show below a picture that has no text of its own."""
        return ""

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, id="picture-title")
        yield PicturePane(self.glyphs)
        yield Rule(self.glyphs, id="picture-words")
        yield Overview(self.glyphs)
        yield KeyFooter(self.KEYS)

    def on_mount(self) -> None:
        self.painter = Painter(self.post_message, self.work)
        self.session.link.ask()
        self.pane = self.query_one(PicturePane)
        self.show_place()

    def here(self) -> tuple[SequenceView, int]:
        return self.view, self.row

    def on_unmount(self) -> None:
        self.painter.forget()

    def session_changed(self) -> None:
        """Show the session's current view once its frames are checked. Until then, keep showing the previous view.

        If the staged plan has changed, end a preview of the previous plan. Make a preview again if it shows a fix that
        was only offered, or if it is not ready yet.
        """
        view = self.session.view
        if self._staged is not self._plan:
            if self._asked is not None or (self.preview is not None and not self.preview.staged):
                self._preview()  # it may be staged now
            elif self.preview is not None:
                self._end_preview()
                self.draw()
        self.show_place()
        if view is None or view.inspection is None or view is self.view or not view.rows:
            return
        self._end_preview()
        number = self.view.rows[self.row].number
        self.view, self.source = view, source_of(self.session, view)
        self.go_to_row(view.row_of_number(number))

    @property
    def number(self) -> Fraction:
        return self.view.rows[self.row].number

    @property
    def at(self) -> int | None:
        """Index of the frame in the view's facts; None for a frame without a file."""
        return self.view.rows[self.row].at

    @property
    def sides(self) -> tuple[tuple[Source, int], tuple[Source, int]] | None:
        """The frames of the left and the right picture, each as a source and an index; None if there is only one
        picture."""
        if not self.beside or self.preview is None or self.at is None or not self.view.facts[self.at].filled:
            return None
        after = self.preview.place(self.number)
        return None if after is None else ((self.source, self.at), (self.preview.source, after))

    @property
    def picture_columns(self) -> int:
        """Width of one picture, in cells."""
        columns = self.pane.size.width
        return columns if self.sides is None else half(columns)

    @property
    def drawn(self) -> tuple[Source, int] | None:
        """The source and the index of the frame to draw; None if there is nothing to draw.

        During a preview, this frame is the result of the fix; otherwise, it is the original frame.
        """
        if self.preview is not None:
            at = self.preview.place(self.number)
            return None if at is None else (self.preview.source, at)
        return None if self.at is None or not self.view.facts[self.at].filled else (self.source, self.at)

    def action_beside(self) -> None:
        """Show the original frame and the result of the fix side by side, or show only one picture again."""
        self.beside = not self.beside
        self.refit()
        if self.preview is None and self.beside:
            self._preview()
        else:
            self.show_place()
            self.draw()

    def refit(self) -> None:
        """Prepare for a picture of a different size, if the screen has anything to prepare."""

    def action_flip(self) -> None:
        """Switch between the original frame and the result of the staged or the offered fix.

        If both are shown side by side, show only the result of the fix.
        """
        if self.beside and self.preview is not None:
            self.beside = False  # only the frame after the fix
            self.refit()
        elif self.preview is not None or self._asked is not None:
            self._end_preview()
        else:
            self._preview()
            return
        self.show_place()
        self.draw()

    @property
    def _staged(self) -> Plan | None:
        """The plan of the staged fixes; None if nothing is staged, or while the plan is being made."""
        return None if self.session.staged.planning else self.session.staged.plan

    def _preview(self) -> None:
        session = self.session
        if session.inspection is None or session.key is None:
            self.say(session.no_fixes)
            return
        offered = []
        if session.finding is not None:
            for offer in session.offers():
                offered.append(stage(session.staged.choices, offer.fix, session.finding, session.key, {}))
        staged = self._plan = self._staged
        asked = self._asked = object()
        self.say("applying the fix")
        self.stop_playback()
        source, inspection, number = self.source, session.inspection, self.number

        def make() -> None:
            with engine.ENGINE:
                try:
                    self.post_message(PreviewReady(asked, preview_of(source, inspection, staged, offered, number)))
                except MeshqcError as error:
                    self.post_message(PreviewReady(asked, None, engine.reason_of(error)))

        self.work(make)

    def on_preview_ready(self, message: PreviewReady) -> None:
        if message.asked is not self._asked:
            return  # the user has left the preview, or the staged fixes have changed
        self._asked = None
        self.preview = message.preview
        if self.beside:
            self.refit()  # a picture may have been shown in the meantime
        self.say("" if message.preview else f"no preview: {message.reason}")
        self.show_place()
        self.draw()

    def _end_preview(self) -> None:
        self.preview = self._asked = None

    @property
    def cells(self) -> Cells:
        """The chosen kind of cells, if the terminal can show it; otherwise the most suitable kind."""
        ways = self._kinds_of_cells
        return next((way for way in ways if way.name == self.how_viewed.cells), ways[0])

    @property
    def _kinds_of_cells(self) -> list[Cells]:
        return self.kinds_of_cells(lines=self.wants_fine_cells)

    @property
    def aspect(self) -> float:
        """Aspect ratio of one picture, width over height."""
        width, height = self.cells.pixels(self.picture_columns, self.pane.size.height)
        return width / max(1, height)

    def draw(self, *, moving: bool = False) -> None:
        """Request the picture."""
        if not self.pane.size.height:
            return
        self.painter.hurried = self.session.link.slow or self.stopped_picture is not None
        order = self.order(moving=moving and not self.session.calm)
        if order is not None:
            self.painter.ask(order)
            return
        self.painter.forget()
        if self.preview is not None:
            self.pane.say(self.preview.words(self.number))
        else:
            hint = " (v: after the fix)" if self.flips else ""
            reason = "this frame has no file" if self.at is None else "nothing to draw: this frame can't be read"
            self.pane.say(reason + hint)
        self.query_one("#picture-words", Rule).title = self.no_words

    def on_picture_pane_resized(self) -> None:
        self.refit()
        self.show_place()
        self.draw()

    def on_painted(self, message: Painted) -> None:
        """Show a picture, or make it wait until the previous picture has been sent.

        On a slow connection, a newer picture replaces a waiting picture, so that keys never wait for pictures.
        """
        if self.drawn is None:
            return  # the picture is of the previous frame, and this frame has no picture
        if self.stopped_picture is not None:
            self.stopped_picture = message
            return
        self.painter.held = not self.session.link.free
        if not self.painter.held:
            self.show_picture(message)
            self.call_after_refresh(self.session.link.ask)
        else:
            self.stopped_picture = message
            self.set_timer(_LINK_LOOKS, self._let_go)

    def _let_go(self) -> None:
        message, self.stopped_picture = self.stopped_picture, None
        if message is not None:
            self.on_painted(message)

    def show_picture(self, message: Painted) -> None:
        if self.preview is None:
            self.pane.show(message.strips)
            self.query_one("#picture-words", Rule).title = message.words or self.no_words
            return
        self.pane.show(message.strips)
        words = self.preview.words(self.number)
        self.query_one("#picture-words", Rule).title = f"{words}; {message.words}" if message.words else words

    def on_not_painted(self, message: NotPainted) -> None:
        """Show why the picture can't be drawn. Drop any picture that is waiting to be sent, because it shows an earlier
        frame."""
        self.stopped_picture = None
        self.pane.say(message.reason)

    def show_place(self) -> None:
        """Show everything about the frame except its picture."""
        number = frame_text(self.view.rows[self.row].number)
        rule = self.query_one("#picture-title", Rule)
        side = "before, " if self.flips and self.session.offers() else ""
        if self.preview is not None:
            side = "AFTER, " if self.sides is None else "before | AFTER, "
        rule.note = side + self.state_words()
        footer = self.query_one(KeyFooter)
        flips = bool(side or self.session.staged.plan)
        footer.offer(tuple(key for key in footer.table if flips or key not in keys.FLIPPING))
        title = f"{self.view.sequence.pattern.display}  frame {number}"
        fits = len(title) + len(rule.note) + _RULE <= self.size.width
        rule.title = title if fits else f"frame {number}"  # the note matters more than the name of the sequence
        self.query_one(Overview).show(self.view, self.row, self.session.selection.finding, "")

    def go_to_row(self, row: int, *, moving: bool = False, choose: bool = True) -> None:
        self.row = row
        self.session.select_row(self.view, row)
        if choose:
            self.session.choose_for(row)
        self.show_place()
        self.draw(moving=moving)

    def graphics_changed(self) -> None:
        """Redraw after the terminal has reported its cell size or its support for pixel graphics."""
        self.draw()

    def action_cells(self) -> None:
        names = [way.name for way in self._kinds_of_cells]
        self.how_viewed.cells = names[(names.index(self.cells.name) + 1) % len(names)]
        self.draw()
