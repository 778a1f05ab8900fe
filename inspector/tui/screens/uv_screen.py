"""The UV map of a frame, with keys to move over the map and to compare it with the map of the reference frame."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from inspector.names import Name
from inspector.tui import keys
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.pair_scene import PairScene
from inspector.tui.pictures.render_modes import Under
from inspector.tui.pictures.scene import Source
from inspector.tui.pictures.uv_figures import UvLayouts
from inspector.tui.pictures.uv_scene import UvScene, place_of, with_unit_square
from inspector.tui.screens.picture_screen import PictureScreen
from inspector.tui.session import Session
from inspector.tui.view_state import HEIGHTS, MapView, Viewport

_SHIFT = 0.1  # share of the window's height per key
_CLOSER = 1.25


class UvScreen(PictureScreen):
    """A screen that shows the UV map of one frame."""

    KEYS = keys.UV_MAP
    BINDINGS = keys.bindings(keys.UV_MAP)
    how_viewed: MapView

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int) -> None:
        super().__init__(session, glyphs, source, row)
        self.layouts = UvLayouts()
        self.how_viewed = session.cameras_of(self.view).uv_map
        self._fitted: Viewport | None = None

    def order(self, *, moving: bool = False) -> UvScene | PairScene | None:
        if (drawn := self.drawn) is None:
            return None
        if (sides := self.sides) is None:
            return self._scene(*drawn, moving=moving)
        left, right = (self._scene(*one, moving=moving) for one in sides)
        return PairScene(left, right, self.pane.size.width, self.glyphs.wall, moving)

    def _scene(self, source: Source, at: int, *, moving: bool) -> UvScene:
        columns, rows = self.picture_columns, self.pane.size.height
        looked = (self.layouts, at, self.how_viewed.place, self.how_viewed.under, self.cells, columns, rows)
        return UvScene(source, *looked, self.how_viewed.compare, self.how_viewed.material, moving)

    def show_picture(self, message: Painted) -> None:
        super().show_picture(message)
        if self.how_viewed.place is None and isinstance(message.order, UvScene):
            self._fit(whole_map=True)

    def state_words(self) -> str:
        material = "" if self.how_viewed.material is None else self.how_viewed.material.display
        against = "with the reference" if self.how_viewed.compare else ""
        return ", ".join(filter(None, [f"UV map {self.how_viewed.under.value}".strip(), material, against]))

    def action_move(self, right: int, up: int) -> None:
        place = self.how_viewed.place
        if place is not None:
            way = _SHIFT * place.height
            self.how_viewed.place = replace(place, u=place.u + way * right, v=place.v + way * up)
            self.draw(moving=True)

    def action_zoom(self, way: int) -> None:
        place = self.how_viewed.place
        if place is not None and HEIGHTS[0] <= (height := place.height / _CLOSER**way) <= HEIGHTS[1]:
            self.how_viewed.place = replace(place, height=height)
            self.draw(moving=True)

    def action_fit(self) -> None:
        """Show the unit square and the whole map or, if these have already been fitted, only the unit square."""
        self._fit(whole_map=self.how_viewed.place is not self._fitted)
        self.draw()

    def _fit(self, *, whole_map: bool) -> None:
        read = None if self.at is None else self.source.store.at_hand(self.at)
        points = np.array([[0.0, 0.0], [1.0, 1.0]])
        if whole_map and read is not None:
            points = with_unit_square(self.layouts.of(read, self.how_viewed.material).map)
        self.how_viewed.place = place_of(points, self.aspect)
        if whole_map:
            self._fitted = self.how_viewed.place

    async def action_under(self) -> None:
        kinds = list(Under)

        def done(answer: int | None) -> None:
            if answer is not None:
                self.how_viewed.under = kinds[answer]
                self.show_place()
                self.draw()

        lines = [f"the map {one.value or 'alone'}" for one in kinds]
        now = kinds.index(self.how_viewed.under)
        await self.app.push_screen(ChoiceDrawer(self.glyphs, "display", lines, now), done)

    def action_behind(self) -> None:
        self.how_viewed.compare = not self.how_viewed.compare
        self.show_place()
        self.draw()

    async def action_material(self) -> None:
        names = () if self.at is None else self.view.facts[self.at].materials
        choices: list[Name | None] = [None, *names]

        def done(answer: int | None) -> None:
            if answer is not None:
                self.how_viewed.material = choices[answer]
                self.show_place()
                self.draw()

        lines = ["all materials", *(name.display for name in names)]
        now = choices.index(self.how_viewed.material) if self.how_viewed.material in choices else 0
        await self.app.push_screen(ChoiceDrawer(self.glyphs, "faces of", lines, now), done)
