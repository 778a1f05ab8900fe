"""One quiet light beside the camera, the same on both sides of the surface."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.picture.camera import Camera
from inspector.picture.raster import Raster

Floats = npt.NDArray[np.float64]

_TO_LIGHT = np.array([-0.35, 0.55, -0.76])
"""From the surface to the light, in camera axes (right, up, forward): over the left shoulder, so that forms show."""

_AMBIENT = 0.25
"""Brightness of a surface that the light only grazes: dark, but apart from the ground."""


def brightness(raster: Raster, camera: Camera, positions: Floats, triangles: npt.NDArray[np.integer]) -> Floats:
    """(h, w) from _AMBIENT to 1, by the angle to the light (Lambert's law); 0 where nothing is seen.

    Flat: a triangle is one shade, as the faces are; smoothed normals would hide a crease or a turned face. A triangle
    with a bad number counts as facing the light.
    """
    a, b, c = positions[triangles].transpose(1, 0, 2)
    across = np.cross(b - a, c - a)
    length = np.linalg.norm(across, axis=1)
    sight = (a + b + c) / 3.0 - camera.position if camera.perspective else camera.axes[2]
    towards = np.where(np.einsum("...i,...i->...", across, sight) > 0.0, -1.0, 1.0)
    to_light = _TO_LIGHT @ camera.axes / np.linalg.norm(_TO_LIGHT)
    with np.errstate(divide="ignore", invalid="ignore"):
        facing = np.nan_to_num(towards * (across @ to_light) / length, nan=1.0)
    shade = _AMBIENT + (1.0 - _AMBIENT) * np.clip(facing, 0.0, 1.0)
    return np.where(raster.covered, shade[raster.triangle], 0.0) if len(shade) else np.zeros(raster.depth.shape)
