"""Light a surface from over the viewer's left shoulder and with a rim light, in the same way on both of its sides."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.camera import Camera
from inspector.picture.raster import Raster

_TO_LIGHT = np.array([-0.65, 0.6, -0.4])
"""Direction from the surface to the light, in camera axes (right, up, forward). The light is over the viewer's left
shoulder, so that shapes are visible."""

_AMBIENT, KEY, _RIM = 0.16, 0.78, 0.5
"""Brightness that a surface always has, dark but distinct from the background; the maximum that the light adds; and the
maximum that the rim light adds, where the surface turns away from the eye. In the few pixels of a terminal, the rim
light makes outlines and folds stand out."""
_RIM_WIDTH = 4
"""Exponent of the rim light. The higher it is, the narrower the rim."""


def brightness(raster: Raster, camera: Camera, positions: Floats, triangles: npt.NDArray[np.integer]) -> Floats:
    """Compute the brightness of each pixel by the angles to the light (Lambert's law) and to the eye.

    Each triangle has one shade, because smoothed normals would hide a crease or a flipped face.

    Args:
        raster: The triangle that is visible at each pixel.
        camera: The camera.
        positions: (n, 3), scene units.
        triangles: (t, 3), vertices.

    Returns:
        The brightness, (h, w), from _AMBIENT to 1; 0 where no triangle is visible.
    """
    seen = np.zeros(len(triangles) + 1, bool)
    seen[raster.triangle] = True  # NONE falls on the last
    which = np.flatnonzero(seen[:-1])
    shade = np.zeros(len(triangles) + 1)
    shade[which] = light_on(camera, positions[triangles[which]]).bright
    return np.asarray(shade[raster.triangle])


@dataclass(frozen=True, eq=False)
class Light:
    """Light on triangles.

    Attributes:
        bright: (k,), brightness, from _AMBIENT to 1.
        rest: (k,), the part of the brightness that doesn't come from the light: _AMBIENT and the rim light.
        normal: (3, k), unit normals of the triangles, on the side of the eye; 0 for a triangle without area.
    """

    bright: Floats
    rest: Floats
    normal: Floats


def light_on(camera: Camera, corners: Floats) -> Light:
    """Compute the light on triangles.

    Args:
        camera: The camera.
        corners: (k, 3, 3), scene units.
    """
    a, b, c = np.ascontiguousarray(corners.transpose(1, 2, 0))
    across = _cross(b - a, c - a)
    sight = (a + b + c) / 3.0 - camera.position[:, None] if camera.perspective else camera.axes[2][:, None]
    to_eye = (across * sight).sum(axis=0)
    facing = (_TO_LIGHT @ camera.axes) @ across
    size = np.sqrt((across**2).sum(axis=0))
    lit = _cosine(np.where(to_eye > 0.0, -facing, facing), size * np.linalg.norm(_TO_LIGHT))
    seen_flat = _cosine(np.abs(to_eye), size * np.sqrt((sight**2).sum(axis=0)))
    rest = _AMBIENT + _RIM * (1.0 - seen_flat) ** _RIM_WIDTH
    normal = np.divide(across, size, out=np.zeros_like(across), where=size > 0.0)
    return Light(np.minimum(rest + KEY * lit, 1.0), rest, np.where(to_eye > 0.0, -normal, normal))


def light_in_texture(camera: Camera, corners: Floats, uvs: Floats, normal: Floats) -> Floats:
    """Compute the direction to the light in the axes of a normal map: along u, along v, and away from the surface.

    The tangents are computed as in Lengyel 2001, "Computing tangent space basis vectors", and made orthogonal.

    Args:
        camera: The camera.
        corners: (k, 3, 3), scene units.
        uvs: (k, 3, 2), UVs of the same corners.
        normal: (3, k), as in `Light`.

    Returns:
        The direction for each triangle, (3, k); 0 for a triangle whose UVs have no area.
    """
    one, two = (np.ascontiguousarray((corners[:, at] - corners[:, 0]).T) for at in (1, 2))
    (u1, v1), (u2, v2) = (np.ascontiguousarray((uvs[:, at] - uvs[:, 0]).T) for at in (1, 2))
    area = u1 * v2 - u2 * v1
    sense = np.sign(np.nan_to_num(area))
    along_u, along_v = (one * v2 - two * v1) * sense, (two * u1 - one * u2) * sense
    to_light = (_TO_LIGHT / np.linalg.norm(_TO_LIGHT)) @ camera.axes
    u = _unit(along_u - normal * (along_u * normal).sum(axis=0))
    v = _cross(normal, u)
    v *= np.sign((v * along_v).sum(axis=0))
    return np.asarray(np.nan_to_num(np.stack([to_light @ u, to_light @ v, to_light @ normal])))


def _unit(vectors: Floats) -> Floats:
    """Scale vectors, (3, n), to length 1; 0 for a vector without length."""
    size = np.sqrt((vectors**2).sum(axis=0))
    return np.asarray(np.divide(vectors, size, out=np.zeros_like(vectors), where=size > 0.0))


def _cosine(product: Floats, lengths: Floats) -> Floats:
    """The cosine from a scalar product and the product of the lengths, clipped to [0, 1]; 1 where a length is 0."""
    return np.asarray(np.clip(np.divide(product, lengths, out=np.ones_like(lengths), where=lengths > 0.0), 0.0, 1.0))


def _cross(a: Floats, b: Floats) -> Floats:
    """Cross products of two arrays of vectors, (3, n) each. `numpy.cross` is far slower on many short vectors."""
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])
