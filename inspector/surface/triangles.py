"""Cut faces into triangles for measuring. Files are never changed."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.formats.frame import ABSENT, Corners, Frame

EAR_CORNERS = 256
"""Maximum number of corners of a concave face that is cut exactly. The time for an exact cut grows with the cube of the
number of corners, so faces with more corners are cut by halving their outlines. Such faces are hardly ever modelled
(common practice, no source)."""

FLAT_TURN = 1e-9
"""If a corner of a face turns to the right by at most this fraction of the face's sharpest turn, the turn counts as a
rounding error. Real turns are larger, because positions have 7 digits or fewer."""


@dataclass(frozen=True, slots=True, eq=False)
class Triangles:
    """The triangles of a frame's faces.

    Attributes:
        corners: Indices of each triangle's corners in `Frame.corners`, (t, 3).
        vertices: Indices of each triangle's vertices, (t, 3).
        face: The face of each triangle, (t,), ascending.
    """

    corners: Indices
    vertices: Indices
    face: Indices

    def __len__(self) -> int:
        return len(self.face)

    def of(self, chosen: Indices) -> Triangles:
        """Return the triangles whose indices are in `chosen`, (k,), in the order of `chosen`."""
        return Triangles(self.corners[chosen], self.vertices[chosen], self.face[chosen])


class Triangulator:
    """Cuts the faces of frames into triangles. Consecutive frames with the same faces share the triangles."""

    def __init__(self) -> None:
        self._faces: Corners | None = None
        self._triangles: Triangles | None = None

    def of(self, frame: Frame) -> Triangles:
        """Return the triangles of a frame.

        If consecutive frames have the same faces, the first of these frames determines which faces are concave.
        """
        if self._triangles is None or not self._same(frame.corners):
            self._triangles = triangulate(frame.corners, frame.positions)
        self._faces = frame.corners
        return self._triangles

    def _same(self, faces: Corners) -> bool:
        known = self._faces
        return known is not None and all(
            old is new or np.array_equal(old, new) for old, new in ((known.v, faces.v), (known.offsets, faces.offsets))
        )


def triangulate(corners: Corners, positions: Floats) -> Triangles:
    """Cut faces into triangles.

    A convex face becomes a fan from its first corner, and a concave quad becomes a fan from the corner that bends
    inwards. A larger concave face is cut by ear clipping. Any face with more than EAR_CORNERS corners is cut by halving
    its outline instead. Unless a concave face is halved, the areas of its triangles add up to the area of the face.

    Args:
        corners: The faces. Corners without a legal vertex are skipped. A face with fewer than three remaining corners
            yields no triangle.
        positions: Positions of the vertices, (n, 3).
    """
    kept = np.flatnonzero(corners.v != ABSENT)
    sizes = np.bincount(corners.face_of_corner()[kept], minlength=len(corners.offsets) - 1)
    starts = np.cumsum(sizes) - sizes
    parts: list[tuple[Indices, Indices]] = []
    for size in (np.flatnonzero(np.bincount(sizes, minlength=3)[3:]) + 3).tolist():
        faces = np.flatnonzero(sizes == size)
        rings = kept[starts[faces][:, None] + np.arange(size)]
        parts.append((np.repeat(faces, size - 2), _cut(rings, positions[corners.v[rings]])))
    if not parts:
        none = np.zeros((0, 3), np.int64)
        return Triangles(none, none, none[:, 0])
    face = np.concatenate([faces for faces, _ in parts])
    cut = np.concatenate([pieces for _, pieces in parts])
    if len(parts) > 1:
        order = np.argsort(face, kind="stable")
        face, cut = face[order], cut[order]
    return Triangles(cut, corners.v[cut].astype(np.int64), face)


@np.errstate(over="ignore", invalid="ignore")  # if numbers overflow, it doesn't matter how the face is cut
def _cut(rings: Indices, points: Floats) -> Indices:
    """Cut rings, (k, s), whose points are (k, s, 3), into triangles. Return the triangles, (k * (s - 2), 3), ring by
    ring."""
    size = rings.shape[1]
    if size == 3:
        return rings
    if size > EAR_CORNERS:
        return np.asarray(rings[:, _halves(size)].reshape(-1, 3))
    fan = np.stack([np.zeros(size - 2, np.int64), np.arange(1, size - 1), np.arange(2, size)], axis=-1)
    local = np.tile(fan, (len(rings), 1, 1))
    turns, normals = _turns(points)
    bent = np.flatnonzero(_bends_in(turns))
    if size == 4:  # a concave quad is a fan from the corner that bends inwards
        local[bent] = (fan + turns[bent].argmin(axis=1)[:, None, None]) % 4
    else:
        for ring in bent.tolist():
            local[ring] = clip_ears(_flattened(points[ring], normals[ring]))
    return np.take_along_axis(rings, local.reshape(len(rings), -1), axis=1).reshape(-1, 3)


def _halves(size: int) -> Indices:
    """Cut a ring of `size` corners by halving its outline, and return the triangles, (size - 2, 3), as indices into the
    ring.

    The first triangle joins the first, the middle and the last corner. The outlines on both sides of the middle corner
    are cut recursively in the same way. These triangles are faster to draw than a fan.
    """
    first, last = np.array([0]), np.array([size - 1])
    rounds = []
    while len(first):
        middle = (first + last) // 2
        rounds.append(np.stack([first, middle, last], axis=-1))
        first, last = np.concatenate([first, middle]), np.concatenate([middle, last])
        apart = last - first > 1
        first, last = first[apart], last[apart]
    return np.concatenate(rounds)


def _turns(points: Floats) -> tuple[Floats, Floats]:
    """Calculate how the outlines of faces, (k, s, 3), turn at each corner, and the normals of the faces.

    A normal is Newell's sum of cross products (Sutherland, Sproull, Schumacker 1974). Its length is twice the face's
    area.

    Returns:
        The turns, (k, s), positive for a turn to the left as seen from the side to which the normal points; and the
        normals, (k, 3).
    """
    from_first = points - points[:, :1]
    normals = np.cross(from_first, np.roll(from_first, -1, axis=1)).sum(axis=1)
    edges = np.roll(points, -1, axis=1) - points
    turns = np.einsum("ksi,ki->ks", np.cross(np.roll(edges, 1, axis=1), edges), normals)
    return turns, normals


def _bends_in(turns: Floats) -> Flags:
    """Whether each face has a corner that turns to the right by more than a rounding error, (k,)."""
    bends: Flags = (turns < -FLAT_TURN * np.abs(turns).max(axis=1, keepdims=True)).any(axis=1)
    return bends


def _flattened(ring: Floats, normal: Floats) -> Floats:
    """Project a ring, (s, 3), along its normal, (3,), to a counter-clockwise ring in the plane, (s, 2)."""
    across = np.cross(normal, np.eye(3)[np.abs(normal).argmin()])
    across /= np.linalg.norm(across)
    upward = np.cross(normal, across) / np.linalg.norm(normal)
    return np.stack([ring @ across, ring @ upward], axis=-1)


_Point = tuple[float, float]


def clip_ears(ring: Floats) -> Indices:
    """Cut a polygon into triangles by ear clipping.

    Unless the polygon crosses itself, the areas of the triangles add up to its area.

    Args:
        ring: The polygon's corners, counter-clockwise, (s, 2).

    Returns:
        The triangles as indices into `ring`, counter-clockwise, (s - 2, 3).
    """
    points: list[_Point] = [(x, y) for x, y in ring.tolist()]
    left = list(range(len(points)))
    ears: list[tuple[int, int, int]] = []
    while len(left) > 3:
        place = next((place for place in range(len(left)) if _is_ear(points, left, place)), 0)
        ears.append((left[place - 1], left[place], left[(place + 1) % len(left)]))
        del left[place]
    return np.array([*ears, tuple(left)], np.int64)


def _is_ear(points: list[_Point], left: list[int], place: int) -> bool:
    """Whether the corner is convex and the triangle that it forms with its neighbours contains no other corner."""
    ear = points[left[place - 1]], points[left[place]], points[left[(place + 1) % len(left)]]
    if _turn(*ear) <= 0.0:
        return False
    return not any(points[other] not in ear and _inside(points[other], ear) for other in left)


def _inside(point: _Point, triangle: tuple[_Point, _Point, _Point]) -> bool:
    a, b, c = triangle
    return _turn(a, b, point) >= 0.0 and _turn(b, c, point) >= 0.0 and _turn(c, a, point) >= 0.0


def _turn(a: _Point, b: _Point, c: _Point) -> float:
    """Return twice the signed area of the triangle, which is positive if a, b and c run counter-clockwise."""
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
