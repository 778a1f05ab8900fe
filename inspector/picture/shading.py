"""Light a surface from over the viewer's left shoulder, with a rim light. Both sides are lit equally."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.picture.camera import Camera
from inspector.picture.raster import Raster

_TO_LIGHT = np.array([-0.65, 0.6, -0.4])
"""Direction from the surface to the light, in camera axes (right, up, forward)."""

_AMBIENT, KEY, _RIM = 0.16, 0.78, 0.5
"""Ambient brightness, maximum brightness that the light adds, and maximum brightness of the rim light."""
_RIM_WIDTH = 4
"""Exponent of the rim light. A higher exponent makes the rim narrower."""


def brightness(raster: Raster, camera: Camera, positions: Floats, triangles: npt.NDArray[np.integer]) -> Floats:
    """Compute the brightness of each pixel from the surface's angles to the light (Lambert's law) and to the eye.

    Each triangle has a single shade: smooth shading would hide creases and flipped faces.

    Args:
        raster: The triangle that is visible at each pixel.
        camera: The camera.
        positions: Positions of the vertices, (n, 3), in scene units.
        triangles: Vertices of the triangles, (t, 3).

    Returns:
        The brightness, (h, w), from _AMBIENT to 1; 0 where no triangle is visible.
    """
    seen = np.zeros(len(triangles) + 1, bool)
    seen[raster.triangle] = True  # NONE, which is -1, sets the additional last entry
    which = np.flatnonzero(seen[:-1])
    shade = np.zeros(len(triangles) + 1)
    shade[which] = light_on(camera, positions[triangles[which]]).bright
    return np.asarray(shade[raster.triangle])


@dataclass(frozen=True, eq=False)
class Light:
    """The light on triangles.

    Attributes:
        bright: Brightness of each triangle, (k,), from _AMBIENT to 1.
        rest: Part of the brightness that doesn't depend on the direction to the light, (k,): _AMBIENT and the rim
            light.
        normal: Unit normal of each triangle on the side that faces the eye, (3, k); 0 for a triangle without area.
    """

    bright: Floats
    rest: Floats
    normal: Floats


def light_on(camera: Camera, corners: Floats) -> Light:
    """Compute the light on triangles.

    Args:
        camera: The camera.
        corners: Corners of the triangles, (k, 3, 3), in scene units.
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

    Tangents are computed as in Lengyel 2001, "Computing tangent space basis vectors", and made orthogonal.

    Args:
        camera: The camera.
        corners: Corners of the triangles, (k, 3, 3), in scene units.
        uvs: UVs of the same corners, (k, 3, 2).
        normal: Unit normals of the triangles, (3, k), as in `Light`.

    Returns:
        The direction for each triangle, (3, k); 0 along u and v if the triangle's UVs have no area.
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
    """Scale vectors, (3, n), to length 1. A vector of length 0 stays 0."""
    size = np.sqrt((vectors**2).sum(axis=0))
    return np.asarray(np.divide(vectors, size, out=np.zeros_like(vectors), where=size > 0.0))


def _cosine(product: Floats, lengths: Floats) -> Floats:
    """Return cosines, clipped to [0, 1], from scalar products and products of lengths; 1 where a length is 0."""
    return np.asarray(np.clip(np.divide(product, lengths, out=np.ones_like(lengths), where=lengths > 0.0), 0.0, 1.0))


def _cross(a: Floats, b: Floats) -> Floats:
    """Return the cross products of vectors, (3, n). `numpy.cross` is far slower for many vectors."""
    return np.stack([a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]])
