"""Draw wires and points as thin lines and dots, hidden where the surface is closer to the camera."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats, Integers
from inspector.picture.camera import Camera
from inspector.picture.canvas import Mask
from inspector.picture.fragments import ranges
from inspector.picture.raster import Raster

_SLACK = 1e-6
"""Maximum rounding error of a line's depth, as a fraction of the depth. A line is hidden only if it is farther behind
the surface than this."""


def wires(
    camera: Camera, positions: Floats, edges: Integers, width: int, height: int, surface: Raster | None = None
) -> Mask:
    """Draw edges as lines, and return whether each pixel is on a line, (height, width).

    Args:
        camera: The camera.
        positions: Positions of the vertices, (n, 3), in scene units.
        edges: Vertices at both ends of each edge, (e, 2).
        width: Width in pixels.
        height: Height in pixels.
        surface: The surface that hides the lines behind it; None to draw all lines.
    """
    start, end = _cut_at_near_plane(camera.to_camera(positions)[edges], camera.near)
    start, end = (camera.to_pixels(point, width, height) for point in (start, end))
    return _visible(_samples(start, end, width, height, camera.perspective), width, height, surface)


def points(
    camera: Camera, positions: Floats, vertices: Integers, width: int, height: int, surface: Raster | None = None
) -> Mask:
    """Draw vertices as points, and return whether each pixel contains one of them, (height, width).

    Args:
        camera: The camera.
        positions: Positions of the vertices, (n, 3), in scene units.
        vertices: Indices of the vertices to draw, (k,).
        width: Width in pixels.
        height: Height in pixels.
        surface: The surface that hides the points behind it; None to draw all points.
    """
    return _visible(camera.project(positions[vertices], width, height), width, height, surface)


def line_pixels(ends: Floats, width: int, height: int) -> Mask:
    """Draw straight lines in the picture, and return whether each pixel is on a line, (height, width).

    Args:
        ends: Both ends of each line, (s, 2, 2): x and y in pixels. Lines that aren't finite are left out.
        width: Width in pixels.
        height: Height in pixels.
    """
    ends = ends[np.isfinite(ends).all(axis=(1, 2))]
    flat = np.concatenate([ends, np.zeros((*ends.shape[:2], 1))], axis=2)
    return _visible(_samples(flat[:, 0], flat[:, 1], width, height, perspective=False), width, height, None)


def unhidden(pixels: Floats, surface: Raster) -> Mask:
    """Return whether each point is in the picture and not hidden by the surface, (n,).

    A point's depth is compared with the greatest depth of the surface in the nine pixels around the point.

    Args:
        pixels: The points, (n, 3): x and y in pixels, and depth.
        surface: The surface that hides points.
    """
    height, width = surface.depth.shape
    inside = _inside(pixels, width, height)
    column, row = pixels[inside, :2].astype(int).T
    seen = np.zeros(len(pixels), bool)
    seen[inside] = pixels[inside, 2] <= _farthest_around(surface.depth)[row, column] * (1.0 + _SLACK)
    return seen


def _visible(pixels: Floats, width: int, height: int, surface: Raster | None) -> Mask:
    keep = _inside(pixels, width, height) if surface is None else unhidden(pixels, surface)
    column, row = pixels[keep, :2].astype(int).T
    mask = np.zeros((height, width), bool)
    mask[row, column] = True
    return mask


def _inside(pixels: Floats, width: int, height: int) -> Mask:
    x, y = pixels[:, 0], pixels[:, 1]
    return np.asarray((x >= 0.0) & (x < width) & (y >= 0.0) & (y < height))


def _farthest_around(depth: Floats) -> Floats:
    around = np.pad(depth, 1, mode="edge")
    rows = np.maximum(np.maximum(around[:-2], around[1:-1]), around[2:])
    return np.asarray(np.maximum(np.maximum(rows[:, :-2], rows[:, 1:-1]), rows[:, 2:]))


def _cut_at_near_plane(ends: Floats, near: float) -> tuple[Floats, Floats]:
    """Cut lines in camera coordinates, (e, 2, 3), at the near plane. Return their starts and ends, (s, 3) each. Lines
    that aren't finite or don't extend beyond the plane are left out."""
    finite = np.isfinite(ends).all(axis=(1, 2))
    ends = ends[finite & (ends[..., 2] >= near).any(axis=1)]
    start, end = ends[:, 0].copy(), ends[:, 1].copy()
    for point, other in ((start, ends[:, 1]), (end, ends[:, 0])):
        before = point[:, 2] < near
        way = (near - point[before, 2]) / (other[before, 2] - point[before, 2])
        point[before] += way[:, None] * (other[before] - point[before])
        point[before, 2] = near
    return start, end


def _samples(start: Floats, end: Floats, width: int, height: int, perspective: bool) -> Floats:
    """Choose points, (n, 3), on lines: one point per pixel along each line's longer axis.

    Each point is at the centre of the pixel's column or row, or at an end of the line's visible part. `start`, `end`
    and the points contain x and y in pixels, and the depth, (..., 3).
    """
    low, high = _shares_inside(start, end, width, height)
    kept = np.flatnonzero(low <= high)
    start, end, low, high = start[kept], end[kept], low[kept, None], high[kept, None]
    way = end - start
    rows = np.arange(len(kept))
    longer = np.abs(way[:, :2]).argmax(axis=1) if len(kept) else rows
    first, last = (np.floor(start + share * way)[rows, longer] for share in (low, high))
    count = np.abs(last - first).astype(np.int64) + 1
    line, place = ranges(np.minimum(first, last).astype(np.int64), count)
    origin, length = start[rows, longer], way[rows, longer]
    share = (place + 0.5 - origin[line]) / np.where(length == 0.0, 1.0, length)[line]
    share = np.clip(share, low[line, 0], high[line, 0])
    samples = start[line] + share[:, None] * way[line]
    if perspective:  # depth is not linear in the picture, its inverse is
        samples[:, 2] = 1.0 / ((1.0 - share) / start[line, 2] + share / end[line, 2])
    return np.asarray(samples)


def _shares_inside(start: Floats, end: Floats, width: int, height: int) -> tuple[Floats, Floats]:
    """For each line, return the fractions of its length at which it enters and leaves the picture, (s,) each (after
    Liang and Barsky 1984). If no part of a line is in the picture, the first fraction is greater than the second."""
    low, high = np.zeros(len(start)), np.ones(len(start))
    for axis, size in ((0, width), (1, height)):
        way, place = end[:, axis] - start[:, axis], start[:, axis]
        level = way == 0.0
        crossings = np.sort((np.array([[0.0], [size]]) - place) / np.where(level, 1.0, way), axis=0)
        outside = level & ((place < 0.0) | (place >= size))
        low = np.where(outside, 1.0, np.where(level, low, np.maximum(low, crossings[0])))
        high = np.where(outside, 0.0, np.where(level, high, np.minimum(high, crossings[1])))
    return low, high
