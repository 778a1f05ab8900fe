"""Texel density: the pixels per scene unit that a texture needs for a picture."""

from __future__ import annotations

import itertools

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.errors import MeshqcError
from inspector.picture.camera import Camera
from inspector.sequence.series import Series


def motion_box(series: Series) -> Floats:
    """Return the bounding box of the whole motion, (2, 3), in scene units. Frames whose coordinates are too large for
    single precision are left out.

    Raises:
        MeshqcError: No frame is left.
    """
    boxes = series.boxes[series.usable & (np.abs(series.boxes).max(axis=(1, 2)) <= limits.SINGLE_LARGEST.value)]
    if not len(boxes):
        raise MeshqcError(
            f"{series.sequence.pattern.display}: no readable frame has coordinates that are small enough to draw"
        )
    return np.stack([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])


def density_to_fill(series: Series, width: int, across: Floats) -> float:
    """Calculate the pixels per scene unit that a texture needs for a picture that the surface fills.

    The frame in which the surface is narrowest decides.

    Args:
        series: The sequence, for the bounding boxes of its frames.
        width: Width of the picture, in pixels.
        across: Unit vector to the right in the picture, (3,), or in each of k pictures, (k, 3). For each frame, the
            picture in which the surface is widest is used.

    Raises:
        MeshqcError: The surface has no extent along any of these vectors.
    """
    sizes = ((series.boxes[:, 1] - series.boxes[:, 0])[series.usable] @ np.abs(np.atleast_2d(across)).T).max(axis=1)
    narrowest = sizes[sizes > 0.0]
    if not len(narrowest):
        raise MeshqcError(
            f"{series.sequence.pattern.display}: the surface has no width in the picture, so the density can't be "
            "calculated; use --density"
        )
    return width / float(narrowest.min())


def density_for_camera(series: Series, camera: Camera, height: int) -> float:
    """Calculate the resolution of a picture, in pixels per scene unit, at the point that is closest to the camera.

    This point is the closest corner of the frames' bounding boxes. If it is closer than the near plane, the distance of
    the near plane is used. The projective geometry is that of picture/camera.py.

    Args:
        series: The sequence, for the bounding boxes of its frames.
        camera: The camera.
        height: Height of the picture, in pixels.
    """
    if camera.parallel_height is not None:
        return height / camera.parallel_height
    boxes = series.boxes[series.usable & np.isfinite(series.boxes).all(axis=(1, 2))]
    ends = itertools.product((0, 1), repeat=3)
    corners = np.concatenate([boxes[:, list(end), [0, 1, 2]] for end in ends])
    nearest = max(float(camera.to_camera(corners)[:, 2].min(initial=np.inf)), camera.near)
    return height / (2.0 * nearest * float(np.tan(np.radians(camera.field_of_view) / 2.0)))
