"""The view presets, and cameras for them."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from inspector.arrays import Floats
from inspector.lettering.viewpoint import side_of, up_in_picture
from inspector.picture.camera import Camera, frame_points
from inspector.sequence.discovery.settings import SIDES
from inspector.surface.text_direction import Upright

_LARGEST = 1e100  # maximum coordinate; its cube still fits in a float64
_HALF = (0.6, 0.6, 0.7)  # direction to a viewpoint in front (+z), above, and to one side
UPRIGHT = Upright()

DIRECTIONS = {
    "half left, above": np.array([-_HALF[0], _HALF[1], _HALF[2]]),
    "half right, above": np.array(_HALF),
    **{word: np.array(side_of(word, UPRIGHT)) for word in SIDES},
}
"""Name of a viewpoint -> direction to the viewpoint, (3,)."""

FIRST = next(iter(DIRECTIONS.values()))
AT_MARKS = "straight at the marked faces"
PARALLEL = "toggle perspective"
VIEW_LINES = (*DIRECTIONS, AT_MARKS, PARALLEL)
"""The lines of the drawer for view presets."""


def camera_on(positions: Floats, to_eye: Floats, aspect: float, *, parallel: bool = False) -> Camera | None:
    """Return a camera that sees all points.

    Args:
        positions: The points, (n, 3). Points that are not finite, or too far out for distances to be computed, are
            ignored.
        to_eye: Direction from the points to the camera, of any length, (3,).
        aspect: Aspect ratio of the picture, width over height.
        parallel: Whether the projection is parallel.

    Returns:
        The camera; None if no point is left.
    """
    points = _measurable(positions)
    if not len(points):
        return None
    up = up_in_picture(to_eye / np.linalg.norm(to_eye), UPRIGHT)
    return frame_points(points, -to_eye, up=up, aspect=aspect, parallel=parallel)


def camera_at(marked: Floats, vertices: Floats, box: Floats, aspect: float, *, parallel: bool) -> Camera | None:
    """Return a camera that looks straight at marked triangles and vertices.

    The camera looks from the side that the triangles face on average. If there are no triangles, or if their directions
    cancel out, it looks past the marks towards the centre of the bounding box. If the marks are centred there, it looks
    from the direction of the first preset. Around the marks, the picture has a margin of a tenth of the box's diagonal.

    Args:
        marked: Corners of the marked triangles, (t, 3, 3).
        vertices: Positions of the marked vertices, (n, 3).
        box: Minimum and maximum of the frame's bounding box, (2, 3).
        aspect: Aspect ratio of the picture, width over height.
        parallel: Whether the projection is parallel.

    Returns:
        The camera; None if no mark has a usable position, or if the box is not usable.
    """
    marked = marked[(np.abs(marked) < _LARGEST).all(axis=(1, 2))]
    points = _measurable(np.concatenate([marked.reshape(-1, 3), vertices]))
    if not len(points) or len(_measurable(box)) != 2:
        return None
    facing = np.cross(marked[:, 1] - marked[:, 0], marked[:, 2] - marked[:, 0]).sum(axis=0)
    outward = points.mean(axis=0) - box.mean(axis=0)
    to_eye = next((way for way in (facing, outward) if 0.0 < np.linalg.norm(way) < np.inf), FIRST)
    room = float(np.linalg.norm(box[1] - box[0])) / 10.0
    return camera_on(np.concatenate([points - room, points + room]), to_eye, aspect, parallel=parallel)


def joint_corners(boxes: Sequence[tuple[float, ...] | None]) -> Floats | None:
    """Find the box around the bounding boxes of frames.

    Boxes whose diagonal is more than four times the median are ignored, so that they don't make the other frames look
    like specks.

    Args:
        boxes: Minimum and maximum of each bounding box, as six numbers; None for a frame without a bounding box.

    Returns:
        The corners of the common box, (8, 3); None if no bounding box is usable.
    """
    known = np.array([box for box in boxes if box is not None], float).reshape(-1, 2, 3)
    known = known[(np.abs(known) < _LARGEST).all(axis=(1, 2))]
    if not len(known):
        return None
    diagonals = np.linalg.norm(known[:, 1] - known[:, 0], axis=1)
    usual = known[diagonals <= 4.0 * np.median(diagonals)]
    sides = np.stack([usual[:, 0].min(axis=0), usual[:, 1].max(axis=0)])
    return np.stack(np.meshgrid(*sides.T), axis=-1).reshape(-1, 3)


def _measurable(points: Floats) -> Floats:
    """Return the points, (n, 3), that are finite and not too far out."""
    return np.asarray(points[(np.abs(points) < _LARGEST).all(axis=1)])
