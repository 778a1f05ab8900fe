"""The scene of the viewer: one frame, as a camera sees it, and its picture."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from typing import TypeVar, cast

import numpy as np
from textual.strip import Strip

from inspector.arrays import Floats
from inspector.checks.base.affected_elements import AffectedElements
from inspector.checks.base.finding import Finding, Severity
from inspector.errors import MeshqcError
from inspector.names import counted
from inspector.picture.bearings import draw_ground
from inspector.picture.camera import Camera
from inspector.picture.canvas import Picture, blank
from inspector.picture.drawing import Style, draw_behind, draw_with_raster
from inspector.picture.grid import grid_picture
from inspector.picture.placement import Placement, placement_of
from inspector.picture.raster import Raster
from inspector.report.frame_rows import SequenceView
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.colour_maps import MaterialMaps
from inspector.sequence.materials.resolver import MaterialResolver
from inspector.tui.columns import title_of
from inspector.tui.pictures.bearings import draw_axes, has_room, ink_on, with_scale
from inspector.tui.pictures.cells import Cells, overlaid
from inspector.tui.pictures.frame_store import FrameStore, ReadFrame
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.render_modes import Look
from inspector.tui.pictures.viewpoints import FIRST, camera_on, joint_corners
from inspector.tui.session import Session
from inspector.tui.styles import STRONG, STYLES

VIEWER_TEXTURE = 512
"""Maximum number of pixels along the longer side of a texture in the viewer. A terminal is a few hundred pixels wide,
and a finer texture would flicker in motion."""

_SAMPLED = 500  # minimum number of vertices in a sample
_LABEL = (208, 208, 208)
_OUTSIDE = 0.02  # maximum share of the vertices that may be outside the picture without a note
Pixels = TypeVar("Pixels", bound=np.ndarray)


@dataclass(frozen=True, eq=False)
class Source:
    """A source of frames: a sequence, its frames and its textures.

    Attributes:
        view: The sequence.
        store: The frames of the sequence.
        textures: The textures of the sequence.
    """

    view: SequenceView
    store: FrameStore
    textures: MaterialMaps


def source_of(session: Session, view: SequenceView) -> Source:
    """Make a source that has not read anything yet."""
    resolver = MaterialResolver(Scope(session.root, session.settings.textures))
    return Source(view, FrameStore(view), MaterialMaps(resolver, VIEWER_TEXTURE))


@dataclass(frozen=True, eq=False)
class Scene:
    """A request for a picture of a frame.

    Attributes:
        source: The source of the frames.
        at: Index of the frame in the view's facts.
        camera: The camera; None until the frame is read and a camera can be chosen.
        look: The render mode.
        cells: The kind of cells that show the picture.
        columns: Width on the screen, in cells.
        rows: Height on the screen, in cells.
        behind: Whether the reference frame is drawn behind the frame.
        finding: The finding whose faces and vertices are marked; None to mark nothing.
        moving: Whether another request is likely to follow immediately.
        whole: Whether the camera is fitted to the whole frame if part of it is outside the picture.
        stamp: A word to write across the picture; empty if there is none.
        label: Text for the top row of the picture; if empty, the text comes from `placement`.
    """

    source: Source
    at: int
    camera: Camera | None
    look: Look
    cells: Cells
    columns: int
    rows: int
    behind: bool = False
    finding: Finding | None = None
    moving: bool = False
    whole: bool = False
    stamp: str = ""
    label: str = ""

    def placement(self) -> Placement | None:
        """Return the bounding boxes of the frame before and after a fix that scaled it or moved it far away.

        Return None if no fix has done so.

        Raises:
            MeshqcError: The frame can't be read.
        """
        measured = self.source.view.facts[self.at].box
        before = None if measured is None else np.reshape(measured, (2, 3))
        return placement_of(before, self.source.store.frame(self.at).frame.box)

    def positions(self) -> Floats:
        """Return the positions of the vertices as they are drawn, (v, 3), in scene units.

        If a fix has scaled the frame or moved it far away, the frame is drawn with its original size and position.

        Raises:
            MeshqcError: The frame can't be read.
        """
        positions, placement = self.source.store.frame(self.at).frame.positions, self.placement()
        return positions if placement is None else placement.put_back(positions)

    def paint(self, coarseness: int) -> Painted:
        """Draw the picture.

        Raises:
            MeshqcError: A frame can't be read, or no vertex has a position.
        """
        if self.camera is None or self.whole:
            return self.with_camera().paint(coarseness)
        picture, words = self.picture(*self.cells.pixels(self.columns, self.rows), coarseness)
        placement, label = self.placement(), self.label
        if placement is not None and not label:
            label = placement.words
            words = "; ".join(filter(None, [f"drawn at the old {placement.what}", words]))
        roomy = has_room(self.columns, self.rows)
        if roomy:
            draw_axes(picture, self.camera, self.cells)
        lines = self.cells.strips(picture)
        if roomy:
            lines = with_scale(lines, self.camera, self.cells, 1.0 if placement is None else placement.factor)
        if label:
            lines = [overlaid(lines[0], 1, label, ink_on(lines[0], _LABEL)), *lines[1:]]
        if self.stamp:
            lines = stamped(lines, self.stamp)
        return Painted(self, picture, self.cells.over(picture, lines), words)

    def picture(self, width: int, height: int, coarseness: int = 1) -> tuple[Picture, str]:
        """Draw the frame without the axes and the scale bar.

        Args:
            width: Width of the picture, in pixels.
            height: Height of the picture, in pixels.
            coarseness: Side, in pixels, of the single-coloured squares of a coarse picture; 1 for full detail.

        Returns:
            The picture, (height, width, 3), and the text to show beside it.

        Raises:
            MeshqcError: A frame can't be read, or no vertex has a position.
        """
        if self.camera is None:  # playback began before the first picture was drawn
            return self.with_camera().picture(width, height, coarseness)
        wide, high = -(-width // coarseness), -(-height // coarseness)
        read = self.source.store.frame(self.at)
        picked = self.source.store.picked_out(self.finding, self.at)
        style, note = self._style(read, picked, wide, high)
        positions = self.positions()
        picture, raster = draw_with_raster(self.camera, positions, read.shape, style, wide, high)
        marks = (
            ""
            if self.finding is None
            else _marks(self.finding, self.source.view.facts[self.at].number, picked, read, raster)
        )
        seen = raster.covered.any() or (picture != style.ground).any()
        view = (
            _outside(self.camera, positions, width, height)
            if seen
            else "no part of the frame is in view (press 0 to fit)"
        )
        words = "; ".join(filter(None, [marks, view, note]))
        return spread(picture, coarseness, width, height), words

    def with_camera(self, beside: Scene | None = None) -> Scene:
        """Return the scene with a camera, the first preset by default.

        If `whole` is set and part of the frame is outside the picture, a camera with the same direction is fitted to
        the whole frame instead.

        Args:
            beside: A scene of the same size, whose frame a new camera must also see; None to consider only this scene.

        Raises:
            MeshqcError: A frame can't be read, or no vertex has a position.
        """
        if self.camera is not None and not self.whole:
            return self
        width, height = self.cells.pixels(self.columns, self.rows)
        positions = self.positions()
        if beside is not None:
            positions = np.concatenate([positions, beside.positions()])
        if self.camera is not None and _share_outside(self.camera, positions, width, height) == 0.0:
            return replace(self, whole=False)
        to_eye, parallel = FIRST, False
        if self.camera is not None:
            to_eye, parallel = self.camera.position - self.camera.target, not self.camera.perspective
        camera = camera_on(positions, to_eye, width / height, parallel=parallel)
        if camera is None:
            raise MeshqcError("nothing to draw: no vertex has a position")
        return replace(self, camera=camera, whole=False)

    def _style(self, read: ReadFrame, picked: AffectedElements, width: int, height: int) -> tuple[Style, str]:
        """Return the style of the picture, and a note about missing textures, which is empty if none is missing."""
        textures, texture_of, note = self._textures(read)
        style = Style(
            surface=not self.look.fine,
            solid=True,
            wires=self.look is Look.WIRES,
            points=self.look is Look.POINTS,
            textures=textures,
            texture_of=texture_of,
            marked_faces=picked.faces if 0 < len(picked.faces) < read.frame.faces else None,
            marked_vertices=picked.vertices if len(picked.vertices) else None,
            ground=self._ground(self.camera, width, height),
        )
        return style, note

    def _ground(self, camera: Camera | None, width: int, height: int) -> Picture:
        reference = self.source.store.reference if self.behind else None
        if camera is None:
            return blank(width, height)
        if reference is None:
            picture = blank(width, height)
        else:
            picture = draw_behind(camera, reference.frame.positions, reference.triangles.vertices, width, height)
        if self.cells.dim:
            draw_ground(picture, camera, joint_corners([one.box for one in self.source.view.facts]))
        return picture

    def _textures(self, read: ReadFrame) -> tuple[list[Picture], np.ndarray | None, str]:
        if self.look is Look.GRID:
            bare = np.isnan(read.shape.corner_uvs).any()
            return [grid()], None, "stripes: no UVs" if bare else ""
        if self.look is not Look.TEXTURED:
            return [], None, ""
        pictures, of_face = self.source.textures.of(self.source.view.facts[self.at], read.frame)
        if not pictures:
            return [], None, "no texture was found; the frame is drawn shaded"
        bare = (of_face < 0).any() or np.isnan(read.shape.corner_uvs).any()
        return pictures, of_face[read.triangles.face], "stripes: no UVs or no texture" if bare else ""


def stamped(lines: Sequence[Strip], word: str) -> list[Strip]:
    """Return the lines of a picture, with a word written across every third line of the middle third of the picture."""
    stamp = f" {word} "
    stamped = list(lines)
    for row in range(len(lines) // 3, max(len(lines) // 3 + 1, 2 * len(lines) // 3), 3):
        start = (lines[row].cell_length - len(stamp)) // 2
        if start > 0:
            stamped[row] = overlaid(lines[row], start, stamp, STYLES[Severity.WARNING] + STRONG)
    return stamped


def _outside(camera: Camera, positions: Floats, width: int, height: int) -> str:
    """Describe the share of the frame that is outside the picture, estimated from a sample of the frame's vertices.
    Return an empty text if the share is negligible."""
    share = _share_outside(camera, positions[:: max(1, len(positions) // _SAMPLED)], width, height)
    return f"{share:.0%} of the frame is outside the picture (press 0 to fit)" if share > _OUTSIDE else ""


def _share_outside(camera: Camera, positions: Floats, width: int, height: int) -> float:
    """Return the share of positions, (n, 3), that are outside the picture. Positions that are not finite are
    ignored."""
    known = positions[np.isfinite(positions).all(axis=1)]
    x, y, _ = camera.project(known, width, height).T
    return 1.0 - float(np.mean((x >= 0) & (x <= width) & (y >= 0) & (y <= height))) if len(known) else 0.0


def spread(picture: Pixels, coarseness: int, width: int, height: int) -> Pixels:
    """Enlarge a coarse picture, or an array of values for its pixels, (h, w, ...), by repeating pixels.

    Args:
        picture: The picture or the values.
        coarseness: Number of times that each row and each column is repeated.
        width: Full width, in pixels.
        height: Full height, in pixels.

    Returns:
        The enlarged array, (height, width, ...).
    """
    if coarseness == 1:
        return picture
    wide = picture.repeat(coarseness, axis=0).repeat(coarseness, axis=1)[:height, :width]
    return cast(Pixels, wide)


@cache
def grid() -> Picture:
    """Return the picture of the UV checker. It is drawn only once."""
    return grid_picture(512, 512)


def _marks(finding: Finding, number: Fraction, picked: AffectedElements, read: ReadFrame, raster: Raster) -> str:
    """Describe the marked faces and vertices, as in `E UV index mismatch: 600 faces hatched, 288 visible`."""
    parts = []
    if len(picked.faces) == read.frame.faces > 0:
        parts.append(f"all {counted(len(picked.faces), 'face')}")
    elif len(picked.faces):
        seen = np.isin(picked.faces, read.shape.face[raster.triangle[raster.covered]]).sum()
        first = "the first " if picked.first_only else ""
        parts.append(f"{first}{counted(len(picked.faces), 'face')} hatched, {seen:,} visible")
    if len(picked.vertices):
        crosses = "a cross" if len(picked.vertices) == 1 else "crosses"
        parts.append(f"{counted(len(picked.vertices), 'vertex', 'vertices')} marked with {crosses}")
    said = "; ".join(parts) or "concerns the whole frame"
    if finding.frames and number not in finding.frames:
        said = "not on this frame"
    return f"{finding.severity.sign} {title_of(finding.check)}: {said}"
