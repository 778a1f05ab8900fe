"""Two frames compared: the distance that each vertex has moved, as shades on one of the frames."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from inspector.arrays import Floats
from inspector.errors import MeshqcError
from inspector.names import amount
from inspector.picture.bearings import draw_ground
from inspector.picture.camera import Camera
from inspector.picture.canvas import blank
from inspector.picture.drawing import Style, draw_with_raster, seen_values
from inspector.picture.ramp import NO_VALUE, Ramp, Steps
from inspector.picture.raster import Raster
from inspector.sequence.frame_difference import Difference, differences, displacement
from inspector.tui.pictures.bearings import draw_axes, has_room, with_scale
from inspector.tui.pictures.cells import Cells
from inspector.tui.pictures.comparison_frames import Against
from inspector.tui.pictures.frame_store import ReadFrame
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.pair_scene import PairScene
from inspector.tui.pictures.scene import Scene, Source, spread
from inspector.tui.pictures.step_letters import lettered
from inspector.tui.pictures.viewpoints import FIRST, camera_on, joint_corners


@dataclass(eq=False)
class CompareScene:
    """A request for a picture that compares two frames.

    Attributes:
        source: The source of the frames.
        at: Index of the frame in the view's facts.
        against: The frames to compare with.
        camera: The camera; None until the frame is read.
        cells: The kind of cells that show the picture.
        columns: Width on the screen, in cells.
        rows: Height on the screen, in cells.
        moving: Whether another request is likely to follow immediately.
        pair: Both frames side by side, in place of the distances; None to show distances.
        found: The differences; empty until the picture is drawn.
        shades: A legend of the letters and shades; empty until the picture is drawn, or if the picture has no shades.
    """

    source: Source
    at: int
    against: Against
    camera: Camera | None
    cells: Cells
    columns: int
    rows: int
    moving: bool = False
    pair: PairScene | None = None
    found: tuple[Difference, ...] = field(default=())
    shades: str = ""

    def paint(self, coarseness: int) -> Painted:
        """Draw the picture, and set `camera`, `found` and `shades`.

        Raises:
            MeshqcError: A frame can't be read or doesn't exist, or no vertex has a position.
        """
        here, there = self.source.store.frame(self.at), self.against.frame(self.at)
        width, height = self.cells.pixels(self.columns, self.rows)
        camera = self.camera or camera_on(here.frame.positions, FIRST, width / height)
        if camera is None:
            raise MeshqcError("nothing to draw: no vertex has a position")
        self.camera = camera
        self.found = differences(here.frame, there.frame)
        if self.pair is not None:
            pair = self.pair.seen_from(camera)
            if isinstance(pair.left, Scene):
                self.camera = pair.left.camera
            painted = pair.paint(coarseness)
            return Painted(self, painted.picture, painted.strips, painted.words)
        moved, words = _displacements(here, there)
        values = None if moved is None else moved[here.shape.triangles]
        ramp = None if moved is None else Ramp(float(np.nanmin(moved)), float(np.nanmax(moved)))
        wide, high = -(-width // coarseness), -(-height // coarseness)
        ground = blank(wide, high)
        if self.cells.dim:
            draw_ground(ground, camera, joint_corners([one.box for one in self.source.view.facts]))
        style = Style(solid=True, values=values, ramp=ramp, ground=ground)
        picture, raster = draw_with_raster(camera, here.frame.positions, here.shape, style, wide, high)
        picture = spread(picture, coarseness, width, height)
        roomy = has_room(self.columns, self.rows)
        if roomy:
            draw_axes(picture, camera, self.cells)
        strips = self.cells.strips(picture)
        if values is not None and ramp is not None:
            steps = ramp.steps(seen_values(values, raster))
            self.shades = _shades(ramp, steps, raster)
            strips = lettered(strips, spread(steps, coarseness, width, height), ramp, self.cells)
        lines = with_scale(strips, camera, self.cells) if roomy else strips
        return Painted(self, picture, self.cells.over(picture, lines), words)


def _displacements(here: ReadFrame, there: ReadFrame) -> tuple[Floats | None, str]:
    """Measure how far each vertex has moved, and describe the distances.

    Returns:
        The distances, (v,), and a text about them. The distances are None if no distance can be computed, or if all
        distances are known and agree to four significant digits.
    """
    moved = displacement(here.frame, there.frame)
    if moved is None:
        return None, "the vertex counts differ, so distances can't be measured"
    if not np.isfinite(moved).any():
        return None, "no vertex has a position in both frames"
    low, high = (f"{end:.4g}" for end in (np.nanmin(moved), np.nanmax(moved)))
    if low == high and not np.isnan(moved).any():
        return None, "no vertex has moved" if high == "0" else f"every vertex has moved by {amount(moved[0], 'unit')}"
    return moved, f"distance from the other frame: {low} to {high} units"


def _shades(ramp: Ramp, steps: Steps, raster: Raster) -> str:
    """Describe the visible shades, as in `A 0.021, B 0.095, C 0.169 to 0.243 units; stripes: no valid position`."""
    seen = steps[raster.covered]
    parts = []
    if (seen != NO_VALUE).any():
        first, last = int(seen[seen != NO_VALUE].min()), int(seen.max())
        bounds = graded(ramp.bounds)
        listed = ", ".join(f"{ramp.letters[step]} {bounds[step]}" for step in range(first, last + 1))
        parts.append(f"{listed} to {bounds[last + 1]} units")
    if (seen == NO_VALUE).any():
        parts.append("stripes: no valid position")
    return "; ".join(parts)


def graded(bounds: Floats) -> list[str]:
    """Format evenly spaced values with enough digits to distinguish neighbouring values.

    If the values are extremely close together or far apart, they get four digits.
    """
    step = float(bounds[1] - bounds[0])
    if not 1e-6 < step < 1e6:  # not readable at a glance without an exponent
        return [f"{value:.4g}" for value in bounds]
    decimals = max(0, 1 - int(np.floor(np.log10(step))))
    return [f"{value:.{decimals}f}" for value in bounds]
