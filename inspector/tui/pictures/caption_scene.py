"""A caption version as a picture: its lettering close up on the surface, the whole picture, or the texture by
itself."""

from __future__ import annotations

import enum
from dataclasses import dataclass, field

from inspector.errors import MeshqcError
from inspector.lettering.caption_reading import LetteredVersion
from inspector.lettering.legibility import uv_corners
from inspector.lettering.still_pictures import Appearance, draw_frame
from inspector.picture.camera import MARGIN, Camera
from inspector.picture.canvas import Picture, blank
from inspector.picture.image_files import flattened
from inspector.surface.locate import locate
from inspector.tui.pictures.cells import Cells
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.scene import Source, spread

_BOX_SAMPLES = 5, 15
"""Numbers of rows and columns of points on the lettering that a close-up must show."""

_FINENESS = 4
"""Pixels of the texture per pixel of the picture. A finer texture would look the same."""

_ROOM = MARGIN * (1.0 + 1.0 / _BOX_SAMPLES[0])
"""Size of a close-up as a multiple of the extent of its points. The outermost points are half a cell inside the box."""


class CaptionLook(enum.Enum):
    """How a version is shown. The values are the names on the screen."""

    CLOSE = "close up"
    PICTURE = "the whole picture"
    TEXTURE = "the texture"


@dataclass(eq=False)
class Subject:
    """A version on its sequence.

    Attributes:
        source: Provides the frames, and the textures of the other materials.
        lettered: The version as it was drawn.
        material: Name of the material that carries it, as it is shown.
    """

    source: Source
    lettered: LetteredVersion
    material: str
    _textures: dict[int, Picture] = field(default_factory=dict)

    def texture(self, longest: int) -> Picture:
        """Return the texture with no side longer than `longest` pixels.

        It is kept, because every frame is drawn with it.
        """
        if longest not in self._textures:
            self._textures = {longest: flattened(self.lettered.rendered.pixels, longest)}
        return self._textures[longest]


@dataclass(frozen=True, eq=False)
class CaptionScene:
    """A request for a picture of a version.

    Attributes:
        subject: The version.
        look: How the version is shown.
        at: Index of the frame in the view's facts.
        cells: How pixels become cells.
        columns: Width on the screen, cells.
        rows: Height on the screen, cells.
        moving: Whether another frame is likely to follow immediately.
    """

    subject: Subject
    look: CaptionLook
    at: int
    cells: Cells
    columns: int
    rows: int
    moving: bool = False

    def paint(self, coarseness: int) -> Painted:
        """Draw the picture.

        Args:
            coarseness: Pixels across and down that share one colour.

        Raises:
            MeshqcError: The frame can't be read, or the lettering is not on its surface.
        """
        picture = blank(*self.cells.pixels(self.columns, self.rows))
        height, width = picture.shape[:2]
        shot = self.subject.lettered.shot
        if self.look is CaptionLook.CLOSE:
            picture[:] = self._surface(self._close_up(width / height), width, height, coarseness)
        elif self.look is CaptionLook.PICTURE:
            wide, high = _within(width, height, shot.width / shot.height)
            _centre(picture, self._surface(shot.camera, wide, high, coarseness))
        else:
            size = self.subject.lettered.rendered.pixels.shape
            _centre(picture, self.subject.texture(max(_within(width, height, size[1] / size[0]))))
        return Painted(self, picture, self.cells.over(picture, self.cells.strips(picture)))

    def _close_up(self, aspect: float) -> Camera:
        """The camera of the picture, turned to the lettering box and zoomed in. Its position is unchanged, so that the
        same parts of the surface hide the box.

        Raises:
            MeshqcError: The lettering is not on the surface in this frame, or the frame can't be read.
        """
        read, lettered = self.subject.source.store.frame(self.at), self.subject.lettered
        corners = uv_corners(read.frame, read.triangles, lettered.faces)
        samples = locate(corners, lettered.layout.rectangle, *_BOX_SAMPLES)
        points = samples.on(read.frame.positions[read.triangles.vertices[samples.triangle]])
        if not len(points):
            raise MeshqcError("the lettering is not on the surface in this frame")
        middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
        return lettered.shot.camera.zoomed(middle + _ROOM * (points - middle), aspect)

    def _surface(self, camera: Camera, width: int, height: int, coarseness: int) -> Picture:
        """Draw the frame with the texture on it.

        Returns:
            The picture, (height, width, 3).
        """
        wide, high = -(-width // coarseness), -(-height // coarseness)
        subject, source = self.subject, self.subject.source
        box = subject.lettered.layout.rectangle
        share = max(box.width, box.height) if self.look is CaptionLook.CLOSE else 1.0
        texture = subject.texture(int(_FINENESS * max(wide, high) / share))
        appearance = Appearance(texture, material=subject.material, own=source.textures)
        frame, facts = source.store.frame(self.at).frame, source.view.facts[self.at]
        return spread(draw_frame(frame, facts, camera, appearance, wide, high), coarseness, width, height)


def _within(width: int, height: int, aspect: float) -> tuple[int, int]:
    """The largest width and height with an aspect (width over height) that fit in `width` x `height` pixels."""
    return max(1, min(width, round(height * aspect))), max(1, min(height, round(width / aspect)))


def _centre(picture: Picture, inner: Picture) -> None:
    """Copy `inner`, which must not be larger than `picture`, into the middle of `picture`, in place."""
    top, left = (picture.shape[0] - inner.shape[0]) // 2, (picture.shape[1] - inner.shape[1]) // 2
    picture[top : top + inner.shape[0], left : left + inner.shape[1]] = inner
