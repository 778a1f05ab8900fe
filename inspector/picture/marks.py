"""Mark problems in a picture with shapes that are visible even without colour."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from inspector.arrays import Floats, Integers
from inspector.picture.camera import Camera
from inspector.picture.canvas import DARK, Colour, Mask, Picture, stripes
from inspector.picture.raster import Raster
from inspector.picture.shape import Shape
from inspector.picture.wires import unhidden

MARK: Colour = (250, 196, 70)
"""Colour of marks, which have dark stripes or dark outlines."""

_FRAMES_AT_MOST = 60


def hatch(picture: Picture, mask: Mask) -> None:
    """Draw stripes of MARK over the masked pixels of a picture, and darken the pixels between the stripes."""
    height, width = mask.shape
    wide = stripes(height, width, period=8, thickness=4)
    picture[mask & wide] = MARK
    picture[mask & ~wide] = (picture[mask & ~wide] * 0.4).astype(np.uint8)


def mark_faces(
    picture: Picture, raster: Raster, camera: Camera, positions: Floats, shape: Shape, marked: Integers
) -> None:
    """Hatch the visible parts of faces in a picture, and draw a square at each face that covers no pixel.

    If more than _FRAMES_AT_MOST faces cover no pixel (they are too small, have no area or are hidden), no square is
    drawn.

    Args:
        picture: The picture, (h, w, 3).
        raster: The triangle that is visible at each pixel.
        camera: The camera.
        positions: Positions of the vertices, (n, 3), in scene units.
        shape: The frame's shape.
        marked: Indices of the faces to mark, (k,).
    """
    chosen = np.isin(shape.face, marked)
    hatch(picture, raster.covered & np.append(chosen, False)[raster.triangle])
    seen = np.unique(shape.face[raster.triangle[raster.covered]])
    unseen = np.flatnonzero(chosen & ~np.isin(shape.face, seen))
    faces = np.flatnonzero(np.bincount(shape.face[unseen]))
    if len(faces) > _FRAMES_AT_MOST:
        return
    place = np.searchsorted(faces, shape.face[unseen])
    middles = np.zeros((len(faces), 3))
    np.add.at(middles, place, positions[shape.triangles[unseen]].mean(axis=1))
    middles /= np.bincount(place, minlength=len(faces))[:, None]
    height, width = raster.triangle.shape
    pixels = camera.project(middles, width, height)
    _stamp_at(picture, pixels[np.isfinite(pixels).all(axis=1)], _form(height, _frame))


def mark_vertices(picture: Picture, raster: Raster, camera: Camera, positions: Floats, marked: Integers) -> None:
    """Draw a cross at each marked vertex in a picture. The centre of the cross is left open if the vertex is hidden.

    Args:
        picture: The picture, (h, w, 3).
        raster: The triangle that is visible at each pixel.
        camera: The camera.
        positions: Positions of the vertices, (n, 3), in scene units.
        marked: Indices of the vertices to mark, (k,).
    """
    height, width = raster.triangle.shape
    pixels = camera.project(positions[marked], width, height)
    pixels = pixels[np.isfinite(pixels).all(axis=1)]
    free = unhidden(pixels, raster)
    _stamp_at(picture, pixels[~free], _form(height, _open_cross))
    _stamp_at(picture, pixels[free], _form(height, _cross))


def _form(height: int, inside: Callable[[Integers, Integers, int], Mask]) -> Mask:
    """Make the mask of a mark, (2 r + 1, 2 r + 1), with the function `inside`. Its arguments are the vertical distances
    of the pixels from the mark's centre, the horizontal distances of the pixels from the centre, and r."""
    reach = max(height // 90, 2)
    away = np.abs(np.arange(-reach, reach + 1))
    return inside(away[:, None], away[None, :], reach)


def _cross(down: Integers, across: Integers, reach: int) -> Mask:
    return np.asarray(np.abs(down - across) <= reach // 5)


def _open_cross(down: Integers, across: Integers, reach: int) -> Mask:
    return _cross(down, across, reach) & (np.maximum(down, across) > reach // 2)


def _frame(down: Integers, across: Integers, reach: int) -> Mask:
    return np.asarray(np.maximum(down, across) >= reach - reach // 5)


def _stamp_at(picture: Picture, pixels: Floats, form: Mask) -> None:
    """Draw a mark with a dark outline at each point of a picture. Points far outside are skipped."""
    height, width = picture.shape[:2]
    near = (np.abs(pixels[:, :2] - np.array([width, height]) / 2.0) < np.array([width, height])).all(axis=1)
    places = np.unique(np.floor(pixels[near, 1::-1]).astype(int), axis=0)
    rim = np.pad(form, 1)
    for one in (-1, 1):
        rim[1:-1, 1 + one : len(rim) - 1 + one] |= form
        rim[1 + one : len(rim) - 1 + one, 1:-1] |= form
    for dots, colour in ((rim, DARK), (form, MARK)):
        rows, columns = (places[:, None] + np.argwhere(dots) - len(dots) // 2).reshape(-1, 2).T
        inside = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
        picture[rows[inside], columns[inside]] = colour
