"""Find the triangle that is visible at each pixel, with a z-buffer."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Floats
from inspector.picture.fragments import Counts, Flat, Prepared, block_of, fragments, in_blocks, unblocked

Indices = npt.NDArray[np.int32]

NONE = -1
"""Value of `Raster.triangle` and `Owners.owner` for a pixel at which no triangle is visible."""

_AT_ONCE = 1 << 18
"""Number of pixels per batch. Each pixel temporarily takes a few hundred bytes."""


@dataclass(frozen=True, eq=False)
class Raster:
    """The point of the surface that is visible at each pixel.

    Attributes:
        triangle: Index of the nearest triangle, (h, w) int32; NONE if there is none. At equal depth, it is the lowest
            index.
        depth: Depth along the line of sight, (h, w) float64, in scene units; infinity where there is no triangle.
        weights: Weights of the triangle's corners at the pixel's centre, (h, w, 3) float64, perspective-correct
            (Heckbert 1989, "Fundamentals of texture mapping and image warping"). They add up to 1; they are 0 where
            there is no triangle.
        block: Side, in pixels, of the blocks in which the picture is drawn; above 1 only if there is too much to draw
            (FRAGMENTS).
    """

    triangle: Indices
    depth: Floats
    weights: Floats
    block: int = 1

    @property
    def covered(self) -> npt.NDArray[np.bool_]:
        """Whether a triangle is visible at each pixel, (h, w)."""
        return np.not_equal(self.triangle, NONE)


def rasterise(corners: Floats, width: int, height: int, *, perspective: bool = True) -> Raster:
    """Draw triangles into a z-buffer. Their orientation doesn't matter.

    Args:
        corners: Corners of the triangles, (t, 3, 3) float64: x and y in pixels, y downward, and depth. With
            perspective, the depth must be positive (see `view`). Triangles without area and triangles with a corner
            that isn't finite are left out.
        width: Width in pixels.
        height: Height in pixels.
        perspective: Whether the projection is perspective rather than parallel.
    """
    block = block_of(corners, width, height)
    if block > 1:
        few = _drawn(in_blocks(corners, block), -(-width // block), -(-height // block), perspective)
        triangle, depth, weights = (
            unblocked(part, block, width, height) for part in (few.triangle, few.depth, few.weights)
        )
        return Raster(triangle, depth, weights, block)
    return _drawn(corners, width, height, perspective)


@dataclass(frozen=True, eq=False)
class Owners:
    """The triangle that is visible at each pixel, without the position on the triangle.

    Attributes:
        owner: Index in `source` of the nearest triangle, (h, w) int32; NONE if there is none.
        nearest: Nearness of that triangle, (h, w) float64: with perspective, the inverse of its depth, otherwise minus
            its depth. It is minus infinity where there is no triangle.
        source: Index of each triangle that may be visible, (k,).
        block: Side, in pixels, of the blocks in which the picture is drawn, as in `Raster`.
        perspective: Whether the projection is perspective rather than parallel.
    """

    owner: Indices
    nearest: Floats
    source: Counts
    block: int
    perspective: bool

    @property
    def depth(self) -> Floats:
        """Depth along the line of sight, (h, w), in scene units; infinity where there is no triangle."""
        if not self.perspective:
            return -self.nearest
        far: Floats = np.full(self.nearest.shape, np.inf)
        return np.asarray(np.divide(1.0, self.nearest, out=far, where=self.owner != NONE))


def owners_of(corners: Floats, width: int, height: int, *, perspective: bool = True) -> Owners:
    """Find the triangle that is visible at each pixel, as `rasterise` does, but not the position on the triangle."""
    block = block_of(corners, width, height)
    columns, rows = -(-width // block), -(-height // block)
    flat = Flat.of(in_blocks(corners, block) if block > 1 else corners, columns, rows)
    nearness = 1.0 / flat.depth if perspective else -flat.depth
    owner, nearest = _owners(Prepared.of(flat, nearness, rows), columns, rows)
    owner, nearest = owner.reshape(rows, columns), nearest.reshape(rows, columns)
    if block > 1:
        owner, nearest = (unblocked(one, block, width, height) for one in (owner, nearest))
    return Owners(owner, nearest, flat.source, block, perspective)


def _drawn(corners: Floats, width: int, height: int, perspective: bool) -> Raster:
    flat = Flat.of(corners, width, height)
    nearness = 1.0 / flat.depth if perspective else -flat.depth
    owner, _ = _owners(Prepared.of(flat, nearness, height), width, height)
    raster = Raster(
        triangle=np.full((height, width), NONE, np.int32),
        depth=np.full((height, width), np.inf),
        weights=np.zeros((height, width, 3)),
    )
    covered = np.flatnonzero(owner != NONE)
    for start in range(0, len(covered), _AT_ONCE):
        seen = covered[start : start + _AT_ONCE]
        of = owner[seen]
        shares = _weights(flat.x[:, of], flat.y[:, of], seen, width)
        if perspective:  # attributes over depth are linear in the picture: Heckbert 1989, section 3
            shares *= nearness[:, of]
        shares /= shares.sum(axis=0)
        raster.triangle.reshape(-1)[seen] = flat.source[of]
        raster.depth.reshape(-1)[seen] = (shares * flat.depth[:, of]).sum(axis=0)
        raster.weights.reshape(-1, 3)[seen] = shares.T
    return raster


def _owners(drawn: Prepared, width: int, height: int) -> tuple[Indices, Floats]:
    """For each pixel, return the index of the nearest triangle and the nearness of that triangle, (width * height,)
    each; NONE and minus infinity if there is no triangle."""
    nearest = np.full(width * height, -np.inf)
    owner: Indices = np.full(width * height, NONE, np.int32)
    if _native.active and width > 0:
        given = (drawn.x, drawn.y, drawn.near, drawn.slope, drawn.first_row, drawn.row_counts)
        _native.find_owners(*given, owner=owner, nearest=nearest, width=width)
        return owner, nearest
    for pixel, triangle, near in fragments(drawn, width):
        _keep_nearest(nearest, owner, pixel, triangle, near)
    return owner, nearest


def _keep_nearest(nearest: Floats, owner: Indices, pixel: Counts, triangle: Counts, near: Floats) -> None:
    """Update the nearest triangle of each pixel. The triangles come in ascending order; at equal depth, the lower index
    stays."""
    ahead = near > nearest[pixel]
    pixel, triangle, near = pixel[ahead], triangle[ahead], near[ahead]
    np.maximum.at(nearest, pixel, near)
    won = np.flatnonzero(near == nearest[pixel])[::-1]
    owner[pixel[won]] = triangle[won]


def _weights(x: Floats, y: Floats, pixel: Counts, width: int) -> Floats:
    """Return the weights of triangles' corners at the centres of pixels, (3, n), from the corners' x and y in pixels,
    (3, n)."""
    (x1, x2), (y1, y2) = x[1:] - x[0], y[1:] - y[0]
    row, column = np.divmod(pixel, width)
    across, down = column + 0.5 - x[0], row + 0.5 - y[0]
    twice_area = x1 * y2 - x2 * y1
    one, two = (across * y2 - x2 * down) / twice_area, (x1 * down - across * y1) / twice_area
    return np.asarray(np.clip([1.0 - one - two, one, two], 0.0, None))
