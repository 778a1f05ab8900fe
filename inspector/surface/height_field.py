"""Normal maps as the slopes of a height field, which show whether green points up or down."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats

_CLEAR = 4.0
"""Minimum ratio between the squared curls of the two readings for a decision. Rounding to eight bits and compression
add the same amount to both."""

_LEAST = 4e-3
"""Curl, as a difference between slopes, below which the relief decides nothing. Slopes of eight bits are wrong by some
0.004 each."""

_STEEP = 0.2
"""Outward part of a normal below which its slope is not used. Computing it would be close to a division by zero."""


def green_up(normals: Floats) -> bool | None:
    """Decide whether green points up in a tangent-space normal map.

    The slopes of a height field h have no curl: d(dh/dx)/dy = d(dh/dy)/dx (symmetry of second derivatives). Let p be
    -x/z, which is dh/dx, and q be -y/z. Then q is dh/dy upward if green points up, and downward if green points down.
    Rows run downward, so dp/drow + dq/dx vanishes if green points up, and dp/drow - dq/dx if green points down. If both
    are small, as in a relief of waves along x and waves along y, nothing can be decided.

    Args:
        normals: Directions, (h, w, 3): x to the right, z outward, first row on top.

    Returns:
        Whether green points up; None if the relief doesn't show it.
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
