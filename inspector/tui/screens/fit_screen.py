"""The texture that a material needs, its template, and the frames in which lettering on the texture can be read."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from pathlib import Path
from threading import Event

from rich.text import Text
from textual.app import ComposeResult
from textual.containers import Horizontal

from inspector.delivery.output_file import refuse_early
from inspector.errors import MeshqcError
from inspector.lettering.sequence_fit import FitRequest, display
from inspector.lettering.viewpoint import view_under
from inspector.names import safe
from inspector.report.fit_text import FitReport, fit_text
from inspector.report.text_style import TextStyle
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.sequence.series import Series
from inspector.tui import keys
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.drawers.prompt import Field, Prompt, Values
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.painter import Painted, Painter
from inspector.tui.pictures.sheet_scene import Sheet, SheetScene
from inspector.tui.screens.base_screen import SessionScreen
from inspector.tui.screens.caption_screen import LEAST_COLUMNS, CaptionScreen
from inspector.tui.screens.text_screen import TextScreen
from inspector.tui.session import Session
from inspector.tui.widgets.card import Card
from inspector.tui.widgets.footer import KeyFooter
from inspector.tui.widgets.picture_pane import PicturePane
from inspector.tui.widgets.rule import Rule
from inspector.tui.widgets.sheet_text import sheet_card
from inspector.tui.widgets.text_page import Page
from inspector.tui.workers import fit_engine
from inspector.tui.workers.fit_engine import Fitted, Fitting, NotFitted

_ENDINGS = (".png", ".svg")
_BAR = 20  # cells
_TEMPLATE = "w: write a template to draw on, in the required size and with everything shown here."


@dataclass
class FitCard(Card):
    """The text of `meshqc fit` for the material that carries the lettering.

    Attributes:
        report: The fit; None if the card has only paragraphs.
    """

    report: FitReport | None = None

    def text(self, look: TextStyle) -> Text:
        if self.report is None:
            return super().text(look)
        return Text(fit_text(self.report, look, self.report.fit.material))


class FitScreen(SessionScreen):
    """A screen that shows the fit of one material at a time. Fits that were measured are kept.

    Attributes:
        report: The fit of the material; None until it is measured.
    """

    BINDINGS = keys.bindings(keys.FIT)

    def __init__(self, session: Session, glyphs: Glyphs, series: Series) -> None:
        super().__init__(session, glyphs)
        self._series = series
        self._read = Scope(session.root, session.settings.textures)
        self._known: dict[str | None, Fitted] = {}
        self._material: str | None = None
        self._template = _TEMPLATE
        self._stop = Event()
        self.report: FitReport | None = None
        self._sheet: Sheet | None = None

    def compose(self) -> ComposeResult:
        yield Rule(self.glyphs, self._title, id="fit-title")
        yield (more := Rule(self.glyphs, id="fit-words"))
        with Horizontal(classes="picture-and-words"):
            yield PicturePane(self.glyphs)
            yield Page(self.glyphs, more)
        yield KeyFooter(keys.FIT)

    def on_mount(self) -> None:
        self._painter = Painter(self.post_message, self.work)
        self._pane = self.query_one(PicturePane)
        self._work_out()

    def on_unmount(self) -> None:
        self._stop.set()
        self._painter.forget()

    @property
    def _title(self) -> str:
        return f"{self._series.sequence.pattern.display}: texture and lettering"

    def _work_out(self) -> None:
        self._stop.set()
        self._stop = Event()
        if self._material in self._known:
            self._show(self._known[self._material])
            return
        self.report, self._sheet = None, None
        self._draw()
        self._show_words("starting")
        view = view_under(self.session.settings.rules)
        wanted, resolver = FitRequest(view, material=self._material), MaterialResolver(self._read)
        self.work(partial(fit_engine.fit, self._series, wanted, resolver, self.post_message, self._stop.is_set))

    def _show_words(self, *lines: str) -> None:
        card = FitCard()
        for words in lines:
            card.add("", words)
        self.query_one("#fit-words", Rule).title = "all materials" if self._material is None else self._material
        self.query_one(Page).show(card)

    def on_fitting(self, message: Fitting) -> None:
        if self.report is None:
            bar = self.glyphs.progress(message.done, message.of, _BAR)
            self._show_words(f"{message.doing}, {message.done:,} of {message.of:,}", bar)

    def on_fitted(self, message: Fitted) -> None:
        asked = message.report.fit.wanted.material
        self._known[asked] = self._known[display(message.report.fit.material.material)] = message
        if asked == self._material:
            self._show(message)

    def _show(self, found: Fitted) -> None:
        self.report, self._sheet = found.report, found.sheet
        self.query_one("#fit-words", Rule).title = display(found.report.fit.material.material)
        self.query_one(Page).show(sheet_card(found.report, self._template))
        self._draw()

    def on_picture_pane_resized(self) -> None:
        self._draw()

    def _draw(self) -> None:
        """Request a picture of the sheet, if there is a sheet and enough space."""
        self._pane.display = self._sheet is not None and self.size.width >= LEAST_COLUMNS
        if self._sheet is None or not self._pane.display or not self._pane.size.height:
            self._painter.forget()
            return
        cells = self.kinds_of_cells(lines=False)
        self._painter.ask(SheetScene(self._sheet, cells[0], self._pane.size.width, self._pane.size.height))

    def graphics_changed(self) -> None:
        """Redraw after the terminal has reported its cell size or its support for pixel graphics."""
        self._draw()

    def on_painted(self, message: Painted) -> None:
        if isinstance(message.order, SheetScene) and message.order.sheet is self._sheet:
            self._pane.show(message.strips)

    async def action_read(self) -> None:
        """Show all results, as `meshqc fit` prints them."""
        if self.report is None:
            self.say("there are no results yet")
            return
        await self.app.push_screen(TextScreen(self.session, self.glyphs, self._title, FitCard(report=self.report)))

    async def action_captions(self) -> None:
        view = self.session.view
        if self.report is None or view is None:
            self.say("there are no results yet")
            return
        await self.app.push_screen(CaptionScreen(self.session, self.glyphs, view, self.report.fit))

    def on_not_fitted(self, message: NotFitted) -> None:
        if self.report is None:
            self._show_words(message.reason)

    def action_stop(self) -> None:
        self._stop.set()

    async def action_material(self) -> None:
        if self.report is None:
            self.say("there are no results yet")
            return
        names = [display(one.material) for one in self.report.fit.texture.materials]
        now = display(self.report.fit.material.material)

        def done(answer: int | None) -> None:
            if answer is not None:
                self._material = names[answer]
                self._work_out()

        await self.app.push_screen(ChoiceDrawer(self.glyphs, "the material", names, names.index(now)), done)

    async def action_template(self) -> None:
        """Ask for a path, and write a template there. A path that exists or is inside a source folder is refused."""
        if self.report is None:
            self.say("there are no results yet")
            return
        fitted = self.report.fit
        name = safe(f"{fitted.series.sequence.name.display}_{display(fitted.material.material)}_template.png")

        def fault(values: Values) -> str | None:
            try:
                refuse_early([_path(values)], _ENDINGS, self._read, option="")
            except MeshqcError as error:
                return str(error)
            return None

        def done(values: Values | None) -> None:
            if values is not None:
                self.say("drawing the template")
                self.work(partial(fit_engine.write_template, fitted, _path(values), self.app.post_message))

        suggested = safe(str(self.session.root.parent / name.replace("/", "_")))
        fields = [Field("to", "a new file whose name ends in .png or .svg", suggested)]
        await self.app.push_screen(
            Prompt(self.glyphs, "write a template", fields, fault, paths=Path.cwd(), files=True), done
        )

    def template_done(self, words: str) -> None:
        """Show `words`, which state whether the template was written."""
        self._template = words
        if self._material in self._known:
            self._show(self._known[self._material])


def _path(values: Values) -> Path:
    return Path(values["to"]).expanduser().absolute()
