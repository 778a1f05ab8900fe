"""Frames of a sequence drawn, each in one or several dresses on the same geometry."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from inspector import limits
from inspector.formats.frame import Frame
from inspector.lettering.legibility import Shot
from inspector.lettering.sequence_fit import display
from inspector.picture.canvas import Picture, smaller
from inspector.picture.drawing import Style, draw
from inspector.picture.shape import Shape, shape_of
from inspector.sequence.run.replay import Progress, quiet, replay
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series
from inspector.surface.islands import face_materials
from inspector.surface.triangles import Triangulator


@dataclass(frozen=True, eq=False)
class Dress:
    """What is laid on the surface: a texture, or nothing but light and shade. material: the one that wears it, as it is
    shown; None: all."""

    texture: Picture | None = None
    wires: bool = False
    material: str | None = None


def draw_frames(
    series: Series,
    indices: Sequence[int],
    shot: Shot,
    dresses: Sequence[Dress],
    progress: Progress = quiet,
    cancelled: Cancel = never,
) -> Iterator[tuple[int, list[Picture]]]:
    """Each of the frames at `indices` of `series.facts`: its index, and a picture in each dress.

    Drawn two or three times as large where limits.DRAWN_PIXELS allows, so that edges and letters come out smooth.
    """
    factor = fineness(shot.width, shot.height)
    width, height = shot.width * factor, shot.height * factor
    triangulator = Triangulator()
    for index, frame in zip(indices, replay(series, indices, progress, cancelled), strict=True):
        shape = shape_of(frame, triangulator.of(frame))
        pictures = []
        for dress in dresses:
            textures = () if dress.texture is None else (dress.texture,)
            style = Style(textures=textures, wires=dress.wires)
            drawn = draw(shot.camera, frame.positions, worn(frame, shape, dress), style, width, height)
            pictures.append(smaller(drawn, factor))
        yield index, pictures


def fineness(width: int, height: int) -> int:
    """How many times as large a picture is drawn as it is shown, each way."""
    return max(factor for factor in (1, 2, 3) if factor == 1 or factor**2 * width * height <= limits.DRAWN_PIXELS)


def worn(frame: Frame, shape: Shape, dress: Dress) -> Shape:
    """The shape of a frame with UVs on the dress's material alone."""
    if dress.material is None or dress.texture is None:
        return shape
    names, which = face_materials(frame)
    ours = np.array([display(name) == dress.material for name in names])
    uvs = np.where(ours[which[shape.face]][:, None, None], shape.corner_uvs, np.nan)
    return Shape(shape.triangles, shape.face, shape.edges, uvs)
