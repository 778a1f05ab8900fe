"""A screen that shows a frame through a camera, with keys to orbit, pan, zoom and fit, and to choose view presets."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats
from inspector.names import counted
from inspector.picture.camera import Camera
from inspector.tui.columns import title_of
from inspector.tui.drawers.choice import ChoiceDrawer
from inspector.tui.glyphs import Glyphs
from inspector.tui.pictures.frame_store import ReadFrame
from inspector.tui.pictures.painter import Painted
from inspector.tui.pictures.pair_scene import PairScene
from inspector.tui.pictures.render_modes import Look
from inspector.tui.pictures.scene import Scene, Source
from inspector.tui.pictures.viewpoints import (
    AT_MARKS,
    DIRECTIONS,
    PARALLEL,
    VIEW_LINES,
    camera_at,
    camera_on,
    joint_corners,
)
from inspector.tui.screens.picture_screen import PictureScreen
from inspector.tui.session import Session
from inspector.tui.view_state import PictureView

_TURN = 10.0  # degrees per key
_SHIFT = 0.08  # share of the picture's height per key
_CLOSER = 1.25
_FARTHEST = 1e4  # diagonals of the frame; farther away than this, or closer than its inverse, nothing is visible


class CameraScreen(PictureScreen):
    """A screen with a camera.

    Attributes:
        look: How the surface is drawn.
        how_viewed: The camera and the other settings of the view.
        arrows_turn: Whether the arrow keys turn the view instead of moving it; with Shift, they do the opposite.
    """

    arrows_turn = True
    how_viewed: PictureView
    _fitting: tuple[Camera, int | None] | None = None
    _opening = True
    """True until a picture of the current size is shown. If the camera was fitted, the first such picture shows the
    whole frame."""

    def __init__(self, session: Session, glyphs: Glyphs, source: Source, row: int) -> None:
        super().__init__(session, glyphs, source, row)
        self.look = session.view_state.look or Look.suited(session.finding)
        self.how_viewed = session.cameras_of(self.view).viewer

    @property
    def wants_fine_cells(self) -> bool:
        return self.look.fine

    @property
    def no_words(self) -> str:
        finding = self.session.finding
        if finding is None:
            here = len(self.view.on_row(self.row))  # during playback no finding is chosen
            return f"{counted(here, 'finding') if here else 'no finding'} on this frame"
        return f"{finding.severity.sign} {title_of(finding.check)}" if self.how_viewed.marks else "marks are off (h)"

    def look_words(self) -> str:
        """Return in words how the surface is drawn."""
        return ", ".join(filter(None, [self.look.value, "reference behind" if self.how_viewed.behind else ""]))

    def order(self, *, moving: bool = False) -> Scene | PairScene | None:
        if (drawn := self.drawn) is None:
            return None
        if (sides := self.sides) is None:
            return self.scene(drawn, moving=moving)
        left, right = (self.scene(one, moving=moving) for one in sides)
        return PairScene(left, right, self.pane.size.width, self.glyphs.wall, moving)

    def scene(self, drawn: tuple[Source, int], *, moving: bool) -> Scene:
        """Make the request for a picture of a frame in the current view.

        `drawn` contains the source of the frame, and the index of the frame in this source. `moving` states whether
        another frame is likely to follow immediately.
        """
        finding = self.session.finding if self.how_viewed.marks and self.preview is None else None
        seen = (*drawn, self.how_viewed.camera, self.look, self.cells, self.picture_columns, self.pane.size.height)
        whole, added = (
            self._opening and self.how_viewed.fitted,
            self.preview is not None and self.preview.adds(self.number),
        )
        stamp = "ADDED" if added and self.sides is None else ""
        return Scene(*seen, self.how_viewed.behind, finding, moving, whole, stamp)

    def show_picture(self, message: Painted) -> None:
        unmarked = isinstance(message.order, Scene) and message.order.finding is None and self.preview is None
        if (
            unmarked and message.words and self.no_words
        ):  # findings of the frame, followed by what the picture doesn't show
            words = f"{self.no_words}; {message.words}"
            message = Painted(message.order, message.picture, message.strips, words)
        super().show_picture(message)
        shown = message.order.left if isinstance(message.order, PairScene) else message.order
        if isinstance(shown, Scene) and shown.columns == self.picture_columns:  # not of the size before `refit`
            self.take_first(shown.camera)
            self._opening = False

    def refit(self) -> None:
        self._opening = True
        camera = self.how_viewed.camera
        if camera is not None and self.only_fitted(camera):
            fitted = self._fitted(camera.position - camera.target)
            if fitted is not None:
                self.take_camera(fitted, fits=True)

    def take_first(self, camera: Camera | None) -> None:
        """Keep the camera of the first picture if drawing the picture chose or moved the camera.

        Drawing chooses a camera if there is none, and may move the camera so that the picture shows the whole frame.
        """
        before = self.how_viewed.camera
        if camera is not None and (before is None or (self._opening and camera is not before)):
            self.take_camera(camera, fits=True)

    def take_camera(self, camera: Camera, *, fits: bool) -> None:
        """Set the camera without drawing. `fits` states whether the camera was fitted to the frame."""
        self.how_viewed.camera, self.how_viewed.fitted = camera, fits
        self._fitting = (camera, self.at) if fits else None

    def only_fitted(self, camera: Camera) -> bool:
        """Return whether the camera was fitted to a frame, and has not been moved by hand since then."""
        return self._fitting is not None and self._fitting[0] is camera

    def fits(self, camera: Camera) -> bool:
        """Return whether the camera was fitted to the current frame."""
        return self._fitting == (camera, self.at)

    def on_mount(self) -> None:
        """Drop a saved camera if it no longer shows anything, for example because the size of the frame has changed."""
        if self.how_viewed.camera is not None and not self._reaches(self.how_viewed.camera):
            self.how_viewed.camera = None

    def action_arrow(self, right: int, up: int, other: int) -> None:
        if self.how_viewed.camera is None:
            return
        if self.arrows_turn is not bool(other):
            self.how_viewed.camera = self.how_viewed.camera.turned(-_TURN * right, -_TURN * up)
        else:
            self.how_viewed.camera = self.how_viewed.camera.shifted(_SHIFT * right, _SHIFT * up)
        self.how_viewed.fitted = False
        self.draw(moving=True)

    def action_arrows(self) -> None:
        """Switch the arrow keys between turning and moving the view."""
        self.arrows_turn = not self.arrows_turn
        self.show_place()

    def action_zoom(self, way: int) -> None:
        if self.how_viewed.camera is None:
            return
        camera = self.how_viewed.camera.closer(_CLOSER**way)
        if self._reaches(camera):
            self.how_viewed.camera, self.how_viewed.fitted = camera, False
            self.draw(moving=True)

    def _reaches(self, camera: Camera) -> bool:
        return self._diagonal / _FARTHEST < camera.distance < self._diagonal * _FARTHEST

    @property
    def _diagonal(self) -> float:
        """Diagonal of the frame's bounding box, in scene units. If the diagonal is zero or not known, the camera's
        distance is used instead, or 1 if there is no camera."""
        box = None if self.at is None else self.view.facts[self.at].box
        diagonal = 0.0 if box is None else float(np.hypot.reduce(np.subtract(box[3:], box[:3])))
        return diagonal or (1.0 if self.how_viewed.camera is None else self.how_viewed.camera.distance)

    def action_fit(self) -> None:
        """Fit the frame into the picture or, if it has already been fitted, the whole sequence."""
        camera = self.how_viewed.camera
        if camera is not None:
            self._see(camera.position - camera.target, self._motion_corners() if self.fits(camera) else None)

    def see_all(self) -> None:
        """Fit the whole sequence into the picture, unless the camera was moved by hand."""
        camera = self.how_viewed.camera
        if camera is not None and self.only_fitted(camera):
            self._see(camera.position - camera.target, self._motion_corners())

    def _motion_corners(self) -> Floats | None:
        return joint_corners([one.box for one in self.view.facts])

    def _see(self, to_eye: Floats, points: Floats | None = None) -> None:
        """Look at points, (n, 3), from a direction, (3,), so that they fill the picture.

        The points are the vertices of the frame by default. Do nothing if the frame is not in memory.
        """
        if self._in_memory is not None:
            self._put_up(self._fitted(to_eye, points), fits=points is None)

    def _fitted(self, to_eye: Floats, points: Floats | None = None) -> Camera | None:
        read = self._in_memory
        if read is None:
            return None
        chosen = read.frame.positions if points is None else points
        return camera_on(chosen, to_eye, self.aspect, parallel=self.how_viewed.parallel)

    @property
    def _in_memory(self) -> ReadFrame | None:
        """The current frame; None if it is not in memory."""
        return None if self.at is None else self.source.store.at_hand(self.at)

    def _put_up(self, camera: Camera | None, *, fits: bool = False) -> None:
        if camera is None:
            self.say("nothing to show: no vertex has a position")
        else:
            self.take_camera(camera, fits=fits)
            self.draw()

    def state_words(self) -> str:
        moved = "" if self.arrows_turn else "arrows move"
        flat = "no perspective" if self.how_viewed.parallel else ""
        return ", ".join(filter(None, [self.look_words(), flat, moved]))

    async def action_views(self) -> None:
        def done(answer: int | None) -> None:
            if answer is not None:
                self._view_from(answer)

        await self.app.push_screen(ChoiceDrawer(self.glyphs, "view presets", VIEW_LINES), done)

    def _view_from(self, line: int) -> None:
        if self.how_viewed.camera is None:
            return
        if VIEW_LINES[line] == PARALLEL:
            self.how_viewed.parallel = not self.how_viewed.parallel
            self.show_place()
            self._see(self.how_viewed.camera.position - self.how_viewed.camera.target)
        elif VIEW_LINES[line] == AT_MARKS:
            self._look_at_marks()
        else:
            self._see(DIRECTIONS[VIEW_LINES[line]])

    def _look_at_marks(self) -> None:
        store, finding = self.source.store, self.session.finding
        read = self._in_memory
        if self.at is None or read is None or read.frame.box is None or finding is None:
            self.say("no finding is marked on this frame")
            return
        picked = store.picked_out(finding, self.at)
        vertices = read.frame.positions[picked.vertices]
        marked = read.frame.positions[read.shape.triangles[np.isin(read.shape.face, picked.faces)]]
        if len(marked) or len(vertices):
            self._put_up(camera_at(marked, vertices, read.frame.box, self.aspect, parallel=self.how_viewed.parallel))
        else:
            self.say("this finding concerns the whole frame, so no faces are marked")
