"""A light over the left shoulder and a light on the rim, the same on both sides of the surface."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.camera import Camera
from inspector.picture.raster import Raster

_TO_LIGHT = np.array([-0.65, 0.6, -0.4])
"""From the surface to the light, in camera axes (right, up, forward): over the left shoulder, so that forms show."""

_AMBIENT, KEY, _RIM = 0.16, 0.78, 0.5
"""Brightness that a surface has in any case, dark but apart from the ground; that the light adds at most; and that the
rim adds at most, where the surface turns away from the eye. In the few pixels that a terminal has, the rim is what
makes the outline and the folds stand out."""
_RIM_WIDTH = 4
"""Exponent: the higher, the narrower the rim."""


def brightness(raster: Raster, camera: Camera, positions: Floats, triangles: npt.NDArray[np.integer]) -> Floats:
    """(h, w) from _AMBIENT to 1, by the angle to the light (Lambert's law) and to the eye; 0 where nothing is seen.

    Flat: a triangle is one shade, as the faces are; smoothed normals would hide a crease or a turned face.
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
        bright: (k,), from _AMBIENT to 1.
        rest: (k,), the part of it that doesn't come from the light: _AMBIENT and the rim.
        normal: (3, k), unit vectors at a right angle to the triangles, on the side of the eye; 0 without an area.
    """

    bright: Floats
    rest: Floats
    normal: Floats


def light_on(camera: Camera, corners: Floats) -> Light:
    """Light on triangles with corners (k, 3, 3) in the scene."""
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
    """(3, k): the direction to the light as a normal map states directions: along u, along v, and off the surface.

    corners (k, 3, 3) in the scene, uvs (k, 3, 2) of the same corners, normal (3, k) as in `Light`. 0 for a triangle
    whose UVs have no area. Tangents by Lengyel 2001, "Computing tangent space basis vectors"; made orthogonal.
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
    """Of vectors (3, n); 0 for one without length."""
    size = np.sqrt((vectors**2).sum(axis=0))
    return np.asarray(np.divide(vectors, size, out=np.zeros_like(vectors), where=size > 0.0))


def _cosine(product: Floats, lengths: Floats) -> Floats:
    """From 0 to 1; 1 where a length is zero."""
    return np.asarray(np.clip(np.divide(product, lengths, out=np.ones_like(lengths), where=lengths > 0.0), 0.0, 1.0))


def _cross(a: Floats, b: Floats) -> Floats:
    """Of vectors (3, n) each, (3, n); the library's own is several times slower on many short ones."""
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])
