"""Find the part of a mesh that a camera sees."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats, Integers
from inspector.picture.camera import Camera
from inspector.picture.raster import NONE, Raster, rasterise


@dataclass(frozen=True, eq=False)
class Pieces:
    """The parts of triangles that are beyond the near plane.

    Attributes:
        corners: Corners of the pieces, (k, 3, 3): x and y in pixels, and depth.
        source: Index of the triangle that each piece comes from, (k,).
        whole: Number of pieces that are whole triangles. They are the first pieces.
        shares: For each corner of the remaining pieces, the weights of the triangle's corners, (k - whole, 3, 3).
    """

    corners: Floats
    source: Integers
    whole: int
    shares: Floats

    def of_corners(self, values: Floats, chosen: Integers) -> Floats:
        """Return the values at the corners of some pieces, (n, 3, c), interpolated between the corners of their
        triangles.

        Args:
            values: Values at the corners of all triangles, (t, 3, c).
            chosen: Indices of the pieces, (n,).
        """
        taken = values[self.source[chosen]]
        cut = np.flatnonzero(chosen >= self.whole)
        taken[cut] = self.shares[chosen[cut] - self.whole] @ taken[cut]
        return taken


def pieces_of(camera: Camera, positions: Floats, triangles: Integers, width: int, height: int) -> Pieces:
    """Project triangles to pixels, and cut them at the near plane.

    Args:
        camera: The camera.
        positions: Positions of the vertices, (n, 3), in scene units.
        triangles: Vertices of the triangles, (t, 3).
        width: Width of the picture, in pixels.
        height: Height of the picture, in pixels.
    """
    seen = camera.to_camera(positions)
    behind = seen[:, 2] < camera.near
    if not behind.any():
        corners = camera.to_pixels(seen, width, height)[triangles]
        return Pieces(corners, np.arange(len(triangles)), len(triangles), np.zeros((0, 3, 3)))
    hidden = behind[triangles].sum(axis=1)
    whole, cut = np.flatnonzero(hidden == 0), np.flatnonzero((hidden == 1) | (hidden == 2))
    parts, source, shares = _cut(seen[triangles[cut]], camera.near)
    seen[behind] = np.nan
    pixels = camera.to_pixels(seen, width, height)
    corners = np.concatenate([pixels[triangles[whole]], camera.to_pixels(parts, width, height)])
    return Pieces(corners, np.concatenate([whole, cut[source]]), len(whole), shares)


def view(camera: Camera, positions: Floats, triangles: Integers, width: int, height: int) -> Raster:
    """Find the triangle that the camera sees at each pixel.

    Args:
        camera: The camera.
        positions: Positions of the vertices, (n, 3) float64, in scene units.
        triangles: Vertices of the triangles, (t, 3).
        width: Width of the picture, in pixels.
        height: Height of the picture, in pixels.

    Returns:
        The raster. Its indices and weights refer to `triangles`, even for a triangle that is cut at the near plane.
    """
    pieces = pieces_of(camera, positions, triangles, width, height)
    raster = rasterise(pieces.corners, width, height, perspective=camera.perspective)
    if pieces.whole == len(triangles):
        return raster
    return _with_sources(raster, pieces.source, pieces.whole, pieces.shares)


def _cut(corners: Floats, near: float) -> tuple[Floats, Integers, Floats]:
    """Cut triangles in camera coordinates, (t, 3, 3), at the near plane. Each has one or two corners beyond the plane.

    Returns:
        The pieces, (p, 3, 3); the index of the triangle that each piece comes from, (p,); and, for each corner of a
        piece, the weights of the triangle's corners, (p, 3, 3).
    """
    seen = corners[..., 2] >= near
    alone = np.where(seen.sum(axis=1) == 1, seen.argmax(axis=1), (~seen).argmax(axis=1))
    order = (alone[:, None] + np.arange(3)) % 3
    a, b, c = corners[np.arange(len(corners))[:, None], order].transpose(1, 0, 2)
    share_a, share_b, share_c = np.eye(3)[order].transpose(1, 0, 2)
    one = seen[np.arange(len(corners)), alone]
    two = ~one
    ab, share_ab = _crossing(a, b, share_a, share_b, one, near)
    ac, share_ac = _crossing(a, c, share_a, share_c, one, near)
    source = np.concatenate([np.flatnonzero(one), np.flatnonzero(two), np.flatnonzero(two)])
    pieces, shares = (
        np.concatenate(
            [np.stack([v, vw, vu], axis=1)[one], np.stack([vw, w, u], axis=1)[two], np.stack([vw, u, vu], axis=1)[two]]
        )
        for v, w, u, vw, vu in ((a, b, c, ab, ac), (share_a, share_b, share_c, share_ab, share_ac))
    )
    return pieces, source, shares


def _crossing(
    a: Floats, far: Floats, share_a: Floats, share_far: Floats, a_seen: npt.NDArray[np.bool_], near: float
) -> tuple[Floats, Floats]:
    """Return the points, (t, 3), at which edges cross the near plane, and the weights of the triangle's corners at
    these points, (t, 3).

    Args:
        a: One end of each edge, (t, 3).
        far: The other end of each edge, (t, 3).
        share_a: Weights of the triangle's corners at `a`, (t, 3).
        share_far: Weights of the triangle's corners at `far`, (t, 3).
        a_seen: Whether `a` is the end beyond the near plane, (t,).
        near: Distance of the near plane, in scene units.
    """
    start, end = np.where(a_seen[:, None], (a, far), (far, a))
    share_start, share_end = np.where(a_seen[:, None], (share_a, share_far), (share_far, share_a))
    way = ((near - start[:, 2]) / (end[:, 2] - start[:, 2]))[:, None]
    point = start + way * (end - start)
    point[:, 2] = near
    return point, share_start + way * (share_end - share_start)


def _with_sources(raster: Raster, source: Integers, whole: int, shares: Floats) -> Raster:
    """Convert a raster of pieces to a raster of triangles."""
    covered = raster.covered
    triangle = raster.triangle.copy()
    triangle[covered] = source[raster.triangle[covered]]
    weights = raster.weights.copy()
    cut = raster.triangle >= whole
    weights[cut] = (weights[cut][:, None] @ shares[raster.triangle[cut] - whole])[:, 0]
    return Raster(np.where(covered, triangle, NONE).astype(np.int32), raster.depth, weights, raster.block)
