"""A z-buffer for the tests, which finds the UVs that a pinhole camera sees at each pixel."""

from __future__ import annotations

import numpy as np

Array = np.ndarray


def seen_uvs(corners: Array, uvs: Array, eye: Array, target: Array, degrees: float, width: int, height: int) -> Array:
    """Return the UVs seen at the centre of each pixel, (height, width, 2); NaN if there is no surface.

    A pixel shows the triangle with the smallest depth. UVs are interpolated with perspective correction (projective
    geometry). The camera's upward direction is +y.

    Args:
        corners: Triangles, (t, 3, 3), in scene units. Both sides are drawn.
        uvs: UVs of the triangles' corners, (t, 3, 2).
        eye: Position of the camera, (3,).
        target: The point that the camera looks at, (3,).
        degrees: Vertical field of view.
        width: Width of the picture in pixels.
        height: Height of the picture in pixels.
    """
    forward = (target - eye) / np.linalg.norm(target - eye)
    right = np.cross(forward, [0.0, 1.0, 0.0])
    right /= np.linalg.norm(right)
    axes = np.stack([right, np.cross(right, forward), forward])
    focal = height / 2 / np.tan(np.radians(degrees) / 2)
    depth = np.full((height, width), np.inf)
    found = np.full((height, width, 2), np.nan)
    for triangle, uv in zip((corners - eye) @ axes.T, uvs, strict=True):
        x = width / 2 + focal * triangle[:, 0] / triangle[:, 2]
        y = height / 2 - focal * triangle[:, 1] / triangle[:, 2]
        columns = np.arange(max(0, int(x.min())), min(width, int(x.max()) + 1))
        rows = np.arange(max(0, int(y.min())), min(height, int(y.max()) + 1))
        area = (x[1] - x[0]) * (y[2] - y[0]) - (x[2] - x[0]) * (y[1] - y[0])
        if not len(columns) or not len(rows) or area == 0:
            continue
        px, py = np.meshgrid(columns + 0.5, rows + 0.5)
        ends = [((x[b] - px) * (y[c] - py) - (x[c] - px) * (y[b] - py)) / area for b, c in ((1, 2), (2, 0), (0, 1))]
        weights = np.stack(ends, axis=-1)
        over = weights / triangle[:, 2]
        total = over.sum(axis=-1)
        with np.errstate(divide="ignore", invalid="ignore"):
            z = 1 / total
            here = (over / total[..., None]) @ uv
        window = np.ix_(rows, columns)
        nearer = (weights >= 0).all(axis=-1) & (z < depth[window])
        depth[window] = np.where(nearer, z, depth[window])
        found[window] = np.where(nearer[..., None], here, found[window])
    return found


def shown(image: Array, uvs: Array) -> Array:
    """Return, for each of the UVs (..., 2), the nearest pixel of an image (h, w, ...); 0 if the UV is NaN. The image
    starts with the top row."""
    height, width = image.shape[:2]
    known = np.isfinite(uvs).all(axis=-1)
    u, v = np.where(known[..., None], uvs, 0.0).transpose(2, 0, 1)
    pixels = image[
        np.clip(((1 - v) * height).astype(int), 0, height - 1), np.clip((u * width).astype(int), 0, width - 1)
    ]
    return np.where(known.reshape(known.shape + (1,) * (pixels.ndim - 2)), pixels, 0)
