"""How dense a texture must be for a picture: pixels to a scene unit."""

from __future__ import annotations

import itertools

import numpy as np

from inspector import limits
from inspector.arrays import Floats
from inspector.errors import MeshqcError
from inspector.picture.camera import Camera
from inspector.sequence.series import Series


def motion_box(series: Series) -> Floats:
    """Box of the whole motion, (2, 3), scene units; without frames whose positions are beyond single precision. Raises
    MeshqcError without any position."""
    boxes = series.boxes[series.usable & (np.abs(series.boxes).max(axis=(1, 2)) <= limits.SINGLE_LARGEST.value)]
    if not len(boxes):
        raise MeshqcError(f"{series.sequence.pattern.display}: no frame with positions that a picture can hold")
    return np.stack([boxes[:, 0].min(axis=0), boxes[:, 1].max(axis=0)])


def density_to_fill(series: Series, width: int, across: Floats) -> float:
    """Pixels per scene unit where the surface is as wide as a picture of `width` pixels.

    The narrowest frame decides, because there the surface comes largest.

    Args:
        series: The sequence, for the boxes of its frames.
        width: Pixels.
        across: Unit vectors (3,) or (k, 3) to the right in the pictures that are possible; the surface is seen from
            where it is widest.

    Raises:
        MeshqcError: The surface has no extent along any of them.
    """
    sizes = ((series.boxes[:, 1] - series.boxes[:, 0])[series.usable] @ np.abs(np.atleast_2d(across)).T).max(axis=1)
    narrowest = sizes[sizes > 0.0]
    if not len(narrowest):
        raise MeshqcError(f"{series.sequence.pattern.display}: has no width as seen from there; state --density")
    return width / float(narrowest.min())


def density_for_camera(series: Series, camera: Camera, height: int) -> float:
    """Pixels to a scene unit where the camera comes nearest to any frame's box, in a picture `height` pixels high.

    Pinhole: at depth d the picture is 2 d tan(a / 2) high, a being the vertical field of view (projective geometry;
    the same as in picture/camera.py).
    """
    if camera.parallel_height is not None:
        return height / camera.parallel_height
    boxes = series.boxes[series.usable & np.isfinite(series.boxes).all(axis=(1, 2))]
    ends = itertools.product((0, 1), repeat=3)
    corners = np.concatenate([boxes[:, list(end), [0, 1, 2]] for end in ends])
    nearest = max(float(camera.to_camera(corners)[:, 2].min(initial=np.inf)), camera.near)
    return height / (2.0 * nearest * float(np.tan(np.radians(camera.field_of_view) / 2.0)))
