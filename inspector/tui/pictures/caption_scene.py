"""Pictures of a caption version: the lettering close up on the surface, the whole frame, or only the texture."""

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
"""Numbers of rows and columns of a grid of points in the lettering box. A close-up shows all points of the grid that
are on the surface."""

_FINENESS = 4
"""Number of texture pixels per picture pixel, along each side. A finer texture would look the same."""

_ROOM = MARGIN * (1.0 + 1.0 / _BOX_SAMPLES[0])
"""Size of a close-up as a multiple of the extent of the grid's points. It is larger than MARGIN, because the outermost
points are half a row or half a column inside the lettering box."""


class CaptionLook(enum.Enum):
    """The kinds of pictures of a caption version. The values are their names on the screen."""

    CLOSE = "close up"
    PICTURE = "the whole picture"
    TEXTURE = "the texture"


@dataclass(eq=False)
class Subject:
    """A caption version and its sequence.

    Attributes:
        source: The source of the frames, and of the textures of the other materials.
        lettered: The version, drawn on its texture.
        material: Displayed name of the material whose texture has the lettering.
    """

    source: Source
    lettered: LetteredVersion
    material: str
    _textures: dict[int, Picture] = field(default_factory=dict)

    def texture(self, longest: int) -> Picture:
        """Return the texture, made smaller if a side is longer than `longest` pixels."""
        if longest not in self._textures:
            self._textures = {longest: flattened(self.lettered.rendered.pixels, longest)}
        return self._textures[longest]


@dataclass(frozen=True, eq=False)
class CaptionScene:
    """A request for a picture of a caption version.

    Attributes:
        subject: The version.
        look: The kind of picture.
        at: Index of the frame in the view's facts.
        cells: The kind of cells that show the picture.
        columns: Width on the screen, in cells.
        rows: Height on the screen, in cells.
        moving: Whether another request is likely to follow immediately.
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

        Raises:
            MeshqcError: The frame can't be read, or the lettering of a close-up is not on the surface.
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
        """Return the picture's camera, turned to the lettering box and zoomed in.

        The camera's position is unchanged, so anything that hides the box in the whole picture also hides it in the
        close-up.

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
        """Draw the frame with the lettered texture, and return the picture, (height, width, 3)."""
        wide, high = -(-width // coarseness), -(-height // coarseness)
        subject, source = self.subject, self.subject.source
        box = subject.lettered.layout.rectangle
        share = max(box.width, box.height) if self.look is CaptionLook.CLOSE else 1.0
        texture = subject.texture(int(_FINENESS * max(wide, high) / share))
        appearance = Appearance(texture, material=subject.material, own=source.textures)
        frame, facts = source.store.frame(self.at).frame, source.view.facts[self.at]
        return spread(draw_frame(frame, facts, camera, appearance, wide, high), coarseness, width, height)


def _within(width: int, height: int, aspect: float) -> tuple[int, int]:
    """Return the largest width and height with the aspect ratio `aspect` (width over height) that fit in `width` x
    `height` pixels."""
    return max(1, min(width, round(height * aspect))), max(1, min(height, round(width / aspect)))


def _centre(picture: Picture, inner: Picture) -> None:
    """Copy `inner` into the middle of `picture`, which must be at least as large as `inner`, and is changed in
    place."""
    top, left = (picture.shape[0] - inner.shape[0]) // 2, (picture.shape[1] - inner.shape[1]) // 2
    picture[top : top + inner.shape[0], left : left + inner.shape[1]] = inner
