"""Two frames compared: the way that each vertex went as shades on one of them, and what differs in words."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from inspector.errors import MeshqcError
from inspector.picture.camera import Camera
from inspector.picture.drawing import Style, draw
from inspector.picture.ramp import Ramp
from inspector.sequence.frame_difference import Difference, differences, displacement
from inspector.tui.against import Against
from inspector.tui.card import Card
from inspector.tui.cells import Cells
from inspector.tui.frame_store import ReadFrame
from inspector.tui.painter import Painted
from inspector.tui.scene import Source, spread
from inspector.tui.styles import FAINT, PLAIN, STRONG
from inspector.tui.viewpoints import FIRST, camera_on

_BLOCK = 26  # cells for the name of a block


@dataclass(eq=False)
class CompareScene:
    """An order for a painter. at: place of the frame in the view's facts. camera: None until the frame is read; found:
    what differs, empty until painted."""

    source: Source
    at: int
    against: Against
    camera: Camera | None
    cells: Cells
    columns: int
    rows: int
    moving: bool = False
    found: tuple[Difference, ...] = field(default=())

    def paint(self, coarseness: int) -> Painted:
        """Raises MeshqcError where a frame can't be read or isn't there."""
        here, there = self.source.store.frame(self.at), self.against.frame(self.at)
        width, height = self.cells.pixels(self.columns, self.rows)
        camera = self.camera or camera_on(here.frame.positions, FIRST, width / height)
        if camera is None:
            raise MeshqcError("nothing to draw: no vertex has a place")
        self.camera = camera
        self.found = differences(here.frame, there.frame)
        style, words = _style(here, there)
        wide, high = -(-width // coarseness), -(-height // coarseness)
        picture = draw(camera, here.frame.positions, here.shape, style, wide, high)
        picture = spread(picture, coarseness, width, height)
        return Painted(self, picture, self.cells.strips(picture), words)


def _style(here: ReadFrame, there: ReadFrame) -> tuple[Style, str]:
    ways = displacement(here.frame, there.frame)
    if ways is None:
        return Style(), "other numbers of vertices: no way can be told"
    if not np.isfinite(ways).any() or not np.nanmax(ways):
        return Style(), "no vertex lies elsewhere"
    most = float(np.nanmax(ways))
    style = Style(solid=True, values=ways[here.shape.triangles], ramp=Ramp(0.0, most))
    return style, f"A, dark: 0 units from there; F, light: {most:.4g}; stripes: a bad number"


def difference_card(found: tuple[Difference, ...], words: str) -> Card:
    """A line a block: counts, how many differ, how far."""
    card = Card()
    for one in found:
        here, there = one.counts
        style = FAINT if one.same else PLAIN
        card.add(f"{'=' if one.same else 'x'} {one.block:<{_BLOCK}}", _told(one, here, there), STRONG, style, hang=True)
    card.add("", f"here: this frame; there: {words}", style=FAINT)
    return card


def _told(one: Difference, here: int, there: int) -> str:
    if one.same:
        return f"{here:,}, the same"
    differ = f"{one.differing:,} of {min(here, there):,} differ"
    parts = [differ] if here == there else [f"{here:,} here, {there:,} there", differ]
    if one.first is not None and not one.most:
        parts.append(f"first {one.first}")
    if one.most:
        parts.append(f"mean {one.mean:.4g}, most {one.most:.4g} at {one.farthest}")
    return ", ".join(parts)
