"""Decide, from the slopes in a normal map, whether its green channel points up or down."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats

_CLEAR = 4.0
"""Minimum ratio of the larger to the smaller squared curl (see `green_up`) for a decision."""

_LEAST = 4e-3
"""If the larger curl is smaller than this value, no decision is possible. The value is a difference between slopes.
Slopes that are stored in eight bits have errors of about 0.004."""

_STEEP = 0.2
"""Minimum outward component of a normal whose slope is used. With a smaller component, computing the slope would be
close to a division by zero."""


def green_up(normals: Floats) -> bool | None:
    """Decide whether green points up in a tangent-space normal map.

    The slopes of a height field h have no curl: d(dh/dx)/dy = d(dh/dy)/dx. Let p be -x/z, which is dh/dx, and let q be
    -y/z. Because rows run downward, dp/drow + dq/dx is zero if green points up, and dp/drow - dq/dx is zero if green
    points down. If both are small, no decision is possible.

    Args:
        normals: The normals, (h, w, 3), with x to the right and z outward. The first row is at the top.

    Returns:
        Whether green points up; None if no decision is possible.
    """
    z = normals[..., 2]
    used = z > _STEEP
    with np.errstate(divide="ignore", invalid="ignore"):
        p, q = (np.where(used, -normals[..., axis] / z, np.nan) for axis in (0, 1))
    along_rows = p[2:, 1:-1] - p[:-2, 1:-1]
    along_columns = q[1:-1, 2:] - q[1:-1, :-2]
    up, down = along_rows + along_columns, along_rows - along_columns
    known = np.isfinite(up) & np.isfinite(down)
    if known.sum() < known.size / 4.0 or not known.any():
        return None
    curl_up, curl_down = (float(np.median(part[known] ** 2)) for part in (up, down))
    if max(curl_up, curl_down) < _LEAST**2 or max(curl_up, curl_down) < _CLEAR * min(curl_up, curl_down):
        return None
    return curl_up < curl_down
