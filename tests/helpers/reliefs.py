"""Normal maps of height fields whose slopes are known in closed form."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

Slopes = Callable[[np.ndarray, np.ndarray], tuple[np.ndarray, np.ndarray]]
"""A function that returns dh/dx and dh/dy, the slopes of the height h, at x (to the right) and y (upward).

Both x and y range from 0 to 1.
"""

RELIEFS: dict[str, Slopes] = {
    # h = a cos(b (x + y)) / b
    "diagonal waves": lambda x, y: (-np.sin(60 * (x + y)), -np.sin(60 * (x + y))),
    "faint diagonal waves": lambda x, y: (-0.2 * np.sin(60 * (x + y)), -0.2 * np.sin(60 * (x + y))),
    "steep diagonal waves": lambda x, y: (-2 * np.sin(60 * (x + y)), -2 * np.sin(60 * (x + y))),
    # h = cos(a x) cos(a y) / a
    "eggs": lambda x, y: (-np.sin(50 * x) * np.cos(50 * y), -np.cos(50 * x) * np.sin(50 * y)),
    "low eggs": lambda x, y: (-0.3 * np.sin(50 * x) * np.cos(50 * y), -0.3 * np.cos(50 * x) * np.sin(50 * y)),
    # h = cos(a r) / a, where r is the distance from the middle
    "rings": lambda x, y: _radial(x, y, lambda r: -np.sin(90 * r)),
    "a hill": lambda x, y: _radial(x, y, lambda r: -12 * r * np.exp(-18 * r * r)),
    "ripples along x": lambda x, y: (0.6 * np.cos(40 * x), 0 * y),
    "crossing ripples": lambda x, y: (0.6 * np.cos(40 * x), 0.4 * np.sin(30 * y)),
    "nothing": lambda x, y: (0 * x, 0 * y),
}
"""Reliefs by name. The last three don't show whether green points up or down: their slope along x doesn't depend on y,
and their slope along y doesn't depend on x."""

SILENT = ("ripples along x", "crossing ripples", "nothing")


def _radial(x: np.ndarray, y: np.ndarray, along: Callable[[np.ndarray], np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
    dx, dy = x - 0.5, y - 0.5
    r = np.hypot(dx, dy) + 1e-9
    return along(r) * dx / r, along(r) * dy / r


def normal_map(slopes: Slopes, width: int = 256, height: int = 80, green_up: bool = True) -> np.ndarray:
    """Return the normal map of a relief, (height, width, 3).

    The normals are (-dh/dx, -dh/dy, 1), normalised. Components from -1 to 1 are stored as 0 to 255.
    """
    x, y = np.meshgrid((np.arange(width) + 0.5) / width, 1 - (np.arange(height) + 0.5) / height)
    along, upward = slopes(x, y * height / width)
    normal = np.stack([-along, -upward if green_up else upward, np.ones_like(along)], axis=-1)
    unit = normal / np.linalg.norm(normal, axis=-1, keepdims=True)
    return np.rint((unit + 1) * 127.5).astype(np.uint8)
