"""Draw pictures of frames, with one or more sets of textures on the same geometry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from inspector.arrays import Floats
from inspector.formats.frame import Frame
from inspector.lettering.legibility import LETTER_SAMPLES, Shot, uv_corners
from inspector.lettering.sequence_fit import SequenceFit, display, faces_of
from inspector.lettering.texel_density import motion_box
from inspector.names import Name
from inspector.picture.bearings import axes_sign, draw_ground
from inspector.picture.camera import Camera
from inspector.picture.canvas import Picture, blank
from inspector.picture.shape import Shape, shape_of
from inspector.picture.smooth import BARE, PLAIN, Coats, Textures, draw_smooth
from inspector.sequence.materials.colour_maps import MaterialMaps
from inspector.sequence.measure.facts import FrameFacts
from inspector.sequence.run.replay import Progress, alike, quiet, replay
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series
from inspector.surface.islands import face_materials
from inspector.surface.locate import locate
from inspector.surface.triangles import Triangulator

_AROUND = 1.4
"""Ratio of the width of a close-up to that of the lettering box; above 1, to show the surface around the box."""


@dataclass(frozen=True, eq=False)
class Appearance:
    """The appearance of the surface: with textures, or only shaded.

    Attributes:
        texture: A colour map, (h, w, 3); None for no colour map.
        wires: Whether the edges of the faces are drawn.
        material: Displayed name of the material to which `texture` and `normals` apply; None for all materials.
        normals: A normal map, (h, w, 3); None for no normal map.
        own: The materials' own maps, which are used wherever `texture` or `normals` is None or applies to a different
            material; None for no maps.
    """

    texture: Picture | None = None
    wires: bool = False
    material: str | None = None
    normals: Picture | None = None
    own: MaterialMaps | None = None


def draw_frames(
    series: Series,
    indices: Sequence[int],
    shot: Shot,
    appearances: Sequence[Appearance],
    progress: Progress = quiet,
    up: str = "y",
) -> Iterator[tuple[int, list[Picture]]]:
    """Draw frames with a grid on the ground and a symbol for the axes.

    Args:
        series: The sequence.
        indices: Indices of the frames in `series.facts`.
        shot: The picture.
        appearances: The appearances. Each frame is drawn once per appearance.
        progress: Called after each frame.
        up: Name of the axis that points up.

    Yields:
        The index of each frame, and its pictures, one per appearance.

    Raises:
        MeshqcError: The file of a frame no longer exists or has changed, or no frame has coordinates that are small
            enough to draw.
    """
    ground = blank(shot.width, shot.height)
    draw_ground(ground, shot.camera, _corners(motion_box(series)), "xyz".index(up))
    sign = axes_sign(shot.camera, shot.width, shot.height, up)
    triangulator, coat_makers = Triangulator(), [_CoatMaker(appearance) for appearance in appearances]
    last: Frame | None = None
    shape: Shape | None = None
    for index, frame in zip(indices, replay(series, indices, progress), strict=True):
        triangles = triangulator.of(frame)
        same = last is not None and frame.corners is last.corners and frame.uvs is last.uvs
        if shape is None or not same or triangles.vertices is not shape.triangles:
            shape = shape_of(frame, triangles)
        last = frame
        pictures = []
        for one in coat_makers:
            coats = one.coats(series.facts[index], frame, shape)
            picture = draw_smooth(shot.camera, frame.positions, shape, coats, ground, with_wires=one.appearance.wires)
            sign.draw(picture)
            pictures.append(picture)
        yield index, pictures


def _corners(box: Floats) -> Floats:
    return np.array([[x, y, z] for x in box[:, 0] for y in box[:, 1] for z in box[:, 2]])


def draw_frame(
    frame: Frame, facts: FrameFacts, camera: Camera, appearance: Appearance, width: int, height: int
) -> Picture:
    """Draw one frame, without the ground and the axes.

    Args:
        frame: The frame.
        facts: Facts about the frame, which determine the maps of its materials.
        camera: The camera.
        appearance: The appearance of the surface.
        width: Width of the picture, in pixels.
        height: Height of the picture, in pixels.
    """
    shape = shape_of(frame, Triangulator().of(frame))
    coats = _CoatMaker(appearance).coats(facts, frame, shape)
    return draw_smooth(camera, frame.positions, shape, coats, blank(width, height), with_wires=appearance.wires)


class _CoatMaker:
    """Finds the textures of an appearance for each frame, and prepares each texture once."""

    def __init__(self, appearance: Appearance) -> None:
        self.appearance = appearance
        self._pictures: list[Picture] = []
        self._places: dict[int, int] = {}
        self._textures = Textures.of([])
        self._last: tuple[tuple[object, ...], Shape, Coats] | None = None

    def coats(self, facts: FrameFacts, frame: Frame, shape: Shape) -> Coats:
        """Find the textures on the triangles of a frame.

        Args:
            facts: Facts about the frame, which determine the maps of its materials.
            frame: The frame.
            shape: The shape of the frame.
        """
        stated = (frame.runs, frame.libraries)
        if self._last is not None and self._last[0] == stated and self._last[1] is shape:
            return self._last[2]
        facts = replace(facts, libraries=frame.libraries, materials=frame.materials)
        materials, which = face_materials(frame)
        known = len(self._pictures)
        table = np.array([self._of_material(facts, one) for one in materials], np.int32).reshape(-1, 2)
        if len(self._pictures) > known:
            self._textures = Textures.of(self._pictures)
        coats = Coats(self._textures, table[which[shape.face]])
        self._last = stated, shape, coats
        return coats

    def _of_material(self, facts: FrameFacts, material: Name | None) -> tuple[int, int]:
        """Return the indices of a material's colour map and normal map, as in `Coats.of_triangle`."""
        appearance = self.appearance
        colours, normals = None, None
        if appearance.material is None or display(material) == appearance.material:
            colours, normals = appearance.texture, appearance.normals
        if appearance.own is not None and material is not None:
            colours = appearance.own.colours(facts, material) if colours is None else colours
            normals = appearance.own.normals(facts, material) if normals is None else normals
        bare = PLAIN if (appearance.texture is None and appearance.own is None) or normals is not None else BARE
        return self._place(colours, bare), self._place(normals, -1)

    def _place(self, picture: Picture | None, none: int) -> int:
        if picture is None:
            return none
        if id(picture) not in self._places:
            self._places[id(picture)] = len(self._pictures)
            self._pictures.append(picture)
        return self._places[id(picture)]


def closeup(fit: SequenceFit, cancelled: Cancel = never) -> Shot:
    """Return a close-up that shows the lettering box in all frames, with some space around it.

    The camera keeps its position; it is turned towards the box and zoomed in.

    Args:
        fit: The measured sequence, whose picture is returned if there is no lettering box.
        cancelled: Returns whether to stop.

    Raises:
        Cancelled: The work was stopped.
    """
    if fit.rectangle is None or fit.region is None:
        return fit.shot
    series, faces = fit.series, faces_of(fit.texture, fit.region)
    triangulator = Triangulator()
    samples, uvs = None, None
    places: list[Floats] = []
    for frame in replay(series, alike(series), quiet, cancelled):
        triangles = triangulator.of(frame)
        if samples is None or frame.uvs is not uvs:
            uvs = frame.uvs
            samples = locate(uv_corners(frame, triangles, faces), fit.rectangle, *LETTER_SAMPLES)
        places.append(samples.on(frame.positions[triangles.vertices[samples.triangle]]))
    points = np.concatenate(places)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    near = fit.shot.camera.zoomed(middle + _AROUND * (points - middle), fit.shot.width / fit.shot.height)
    return replace(fit.shot, camera=near)
