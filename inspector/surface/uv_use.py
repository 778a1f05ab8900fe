"""Measure UV coverage: the share of the texture's area that appears on the surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.surface.coverage import CellGrid, affordable, covered
from inspector.surface.uv_layout import UV_TILES

USE_CELLS = 512
"""Number of samples along each side of the texture for measuring UV coverage. With this many samples, a coverage of 1 %
has a relative error of a few per cent."""

_OVERLAP_NOISE = 0.01
"""An overlap of at most this share counts as 0, because sampling errors alone may cause it."""

_UNIT_SQUARE = 0.0, 0.0, 1.0, 1.0


@dataclass(frozen=True, slots=True)
class UvUse:
    """The UV coverage of a surface.

    Attributes:
        box: Smallest u and v, largest u and v.
        used: Share of the texture's area, 0 to 1, that appears on the surface, measured with USE_CELLS x USE_CELLS
            samples (or fewer, see `affordable`). Outside the unit square, the texture repeats. None if the UVs extend
            over more than UV_TILES squares.
        overlap: Share, 0 to 1, of the triangles' UV area that is lost because triangles overlap in the texture. For two
            triangles that coincide, the share is 0.5. None if `used` is None.
    """

    box: tuple[float, float, float, float]
    used: float | None
    overlap: float | None

    @property
    def outside(self) -> bool:
        """Whether the UVs extend beyond the unit square by more than `limits.UV_DIFFERENCE`."""
        low_u, low_v, high_u, high_v = self.box
        rim = limits.UV_DIFFERENCE.value
        return min(low_u, low_v) < -rim or max(high_u, high_v) > 1.0 + rim


def uv_use(uv: Floats) -> UvUse | None:
    """Measure the UV coverage of triangles.

    Args:
        uv: The triangles, (t, 3, 2), all finite.

    Returns:
        The UV coverage; None if `uv` is empty.
    """
    if not len(uv):
        return None
    low, high = uv.reshape(-1, 2).min(axis=0), uv.reshape(-1, 2).max(axis=0)
    box = (float(low[0]), float(low[1]), float(high[0]), float(high[1]))
    tiles = np.prod(np.floor(high) - np.floor(low) + 1.0)
    if tiles > UV_TILES.value:
        return UvUse(box, None, None)
    cells = affordable(uv, _UNIT_SQUARE, USE_CELLS)
    used = np.zeros((cells, cells), bool)
    for hits in covered(uv, CellGrid(*_UNIT_SQUARE, rows=cells, columns=cells), repeated=True):
        used[hits.row, hits.column] = True
    share = float(used.mean())
    first, second = uv[:, 1] - uv[:, 0], uv[:, 2] - uv[:, 0]
    area = float(np.abs(first[:, 0] * second[:, 1] - first[:, 1] * second[:, 0]).sum() / 2.0)
    overlap = 1.0 - share / area if area > 0.0 else 0.0
    return UvUse(box, share, overlap if overlap > _OVERLAP_NOISE else 0.0)
