"""One quiet light beside the camera, the same on both sides of the surface."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.camera import Camera
from inspector.picture.raster import Raster

_TO_LIGHT = np.array([-0.35, 0.55, -0.76])
"""From the surface to the light, in camera axes (right, up, forward): over the left shoulder, so that forms show."""

_AMBIENT = 0.25
"""Brightness of a surface that the light only grazes: dark, but apart from the ground."""


def brightness(raster: Raster, camera: Camera, positions: Floats, triangles: npt.NDArray[np.integer]) -> Floats:
    """(h, w) from _AMBIENT to 1, by the angle to the light (Lambert's law); 0 where nothing is seen.

    Flat: a triangle is one shade, as the faces are; smoothed normals would hide a crease or a turned face.
    """
    seen = np.zeros(len(triangles) + 1, bool)
    seen[raster.triangle] = True  # NONE falls on the last
    which = np.flatnonzero(seen[:-1])
    a, b, c = np.ascontiguousarray(positions[triangles[which]].transpose(1, 2, 0))
    across = _cross(b - a, c - a)
    sight = (a + b + c) / 3.0 - camera.position[:, None] if camera.perspective else camera.axes[2][:, None]
    away = (across * sight).sum(axis=0) > 0.0
    facing = (_TO_LIGHT @ camera.axes) @ across
    size = np.sqrt((across**2).sum(axis=0)) * np.linalg.norm(_TO_LIGHT)
    cosine = np.divide(np.where(away, -facing, facing), size, out=np.ones_like(size), where=size > 0.0)
    shade = np.zeros(len(triangles) + 1)
    shade[which] = _AMBIENT + (1.0 - _AMBIENT) * np.clip(cosine, 0.0, 1.0)
    return np.asarray(shade[raster.triangle])


def _cross(a: Floats, b: Floats) -> Floats:
    """Of vectors (3, n) each, (3, n); the library's own is several times slower on many short ones."""
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])
