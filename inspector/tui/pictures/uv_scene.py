"""The scene of the UV screen: the visible part of a frame's UV map, and the picture of this part."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.names import Name, counted
from inspector.picture.canvas import Picture
from inspector.picture.uv_map import UvMap, draw_uv_difference, draw_uv_map, moved_triangles
from inspector.sequence.discovery.settings import frame_text
from inspector.tui.pictures.cells import Cells
from inspector.tui.pictures.frame_store import ReadFrame
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.render_modes import Under
from inspector.tui.pictures.scene import Source, grid, spread
from inspector.tui.pictures.uv_figures import UvFigures, UvLayouts
from inspector.tui.view_state import ROOM, Viewport


def place_of(points: Floats, aspect: float) -> Viewport:
    """Return a part of the UV plane that contains all points, with a margin.

    If no point is finite, return the unit square with the same margin.

    Args:
        points: Points in UV coordinates, (..., 2). Points that are not finite are ignored.
        aspect: Aspect ratio of the picture, width over height.
    """
    flat = points.reshape(-1, 2)
    flat = flat[np.isfinite(flat).all(axis=1)]
    if not len(flat):
        return Viewport()
    low, high = flat.min(axis=0), flat.max(axis=0)
    wide, tall = (high - low).tolist()
    u, v = ((low + high) / 2.0).tolist()
    return Viewport(u, v, ROOM * max(tall, wide / aspect, 1e-6))


@dataclass(frozen=True, eq=False)
class UvScene:
    """A request for a picture of a UV map.

    Attributes:
        source: The source of the frames.
        layouts: The cache of UV maps and their measurements.
        at: Index of the frame in the view's facts.
        place: The visible part of the UV plane; None to show the unit square and the whole map.
        under: The picture under the map.
        cells: The kind of cells that show the picture.
        columns: Width on the screen, in cells.
        rows: Height on the screen, in cells.
        compare: Whether the map of the reference frame is also drawn.
        material: Material whose faces are drawn; None for all materials.
        moving: Whether another request is likely to follow immediately.
    """

    source: Source
    layouts: UvLayouts
    at: int
    place: Viewport | None
    under: Under
    cells: Cells
    columns: int
    rows: int
    compare: bool = False
    material: Name | None = None
    moving: bool = False

    def paint(self, coarseness: int) -> Painted:
        """Draw the picture.

        Raises:
            MeshqcError: The frame or the reference frame can't be read.
        """
        width, height = self.cells.pixels(self.columns, self.rows)
        read = self.source.store.frame(self.at)
        layout = self.layouts.of(read, self.material)
        before, words = self._before(layout)
        place = self.place or place_of(with_unit_square(layout.map), width / height)
        wide, high = -(-width // coarseness), -(-height // coarseness)
        window, texture = place.window(width / height), self._texture(read)
        if before is None:
            picture = draw_uv_map(layout.map, wide, high, window=window, texture=texture, named=False)
        else:
            picture = draw_uv_difference(layout.map, before, wide, high, window=window, texture=texture)
        picture = spread(picture, coarseness, width, height)
        lines = self.cells.over(picture, self.cells.strips(picture))
        return Painted(self, picture, lines, words or layout_words(layout))

    def _before(self, layout: UvFigures) -> tuple[UvMap | None, str]:
        """Return the reference frame's map and a text about the faces that have moved; None and an empty text if
        nothing can be compared."""
        reference = self.source.store.reference if self.compare and layout.islands else None
        series = self.source.view.series
        if reference is None or series is None:
            return None, ""
        before = self.layouts.of(reference, self.material).map
        number = frame_text(series.reference_facts.number)
        moved = moved_triangles(layout.map, before)
        if moved is None:
            return before, f"frame {number} (dotted) has different faces, so movement can't be measured"
        faces = len(np.unique(layout.map.face[moved]))
        if not faces:
            return before, f"no face has moved relative to frame {number}"
        return before, f"{counted(faces, 'face')} moved (striped); frame {number} is the dotted outline"

    def _texture(self, read: ReadFrame) -> Picture | None:
        """Return the texture at half its brightness, so that lines are visible on it; None if there is no texture to
        draw."""
        if self.under is Under.NOTHING:
            return None
        texture = grid() if self.under is Under.GRID else self._own_texture(read)
        return None if texture is None else np.asarray(texture // 2, np.uint8)

    def _own_texture(self, read: ReadFrame) -> Picture | None:
        return self.source.textures.first(self.source.view.facts[self.at], read.frame, self.material)


def with_unit_square(uv_map: UvMap) -> Floats:
    """Return one array, (n, 2): the UVs of all triangles' corners, followed by two opposite corners of the unit
    square."""
    return np.concatenate([uv_map.corner_uvs.reshape(-1, 2), [[0.0, 0.0], [1.0, 1.0]]])


def layout_words(layout: UvFigures) -> str:
    r"""Describe a UV map's measurements, as in `12 islands; 40 faces mirrored (\); 3.1% of the area overlaps (/)`."""
    if not layout.islands:
        return "there are no UVs to show"
    parts = [counted(layout.islands, "island")]
    mirrored = counted(layout.mirrored, "face")
    parts.append(f"{mirrored} mirrored (\\)" if layout.mirrored else "no mirrored faces")
    if layout.overlap is not None:
        share = f"{layout.overlap:.1%} of the area overlaps (/)"
        parts.append(share if layout.overlap > 0.0 else "no overlap")
    if layout.bare:
        parts.append(f"{counted(layout.bare, 'face')} without UVs")
    return "; ".join(parts)
