"""Judge, frame by frame, whether text in a lettering box can be read in the picture."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from fractions import Fraction

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.formats.frame import Frame
from inspector.picture.camera import Camera
from inspector.sequence.run.replay import Progress, alike, quiet, replay
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series
from inspector.surface.lettering_box import Rectangle
from inspector.surface.locate import Samples, locate
from inspector.surface.metric import Metric, measure_frame
from inspector.surface.text_direction import READ_TURN
from inspector.surface.triangles import Triangles, Triangulator
from inspector.surface.visibility import Eye, unhidden

LETTER_SAMPLES = (16, 48)
"""Numbers of rows and columns of samples over a lettering box. With this many samples, shares of the box are accurate
to better than 0.01."""

READ_SEEN = 0.9
"""Lettering can be read only if at least this share of it is visible: one letter in ten may be hidden (common practice,
no source)."""

_READ_COSINE = 0.5
"""Lettering can be read only if the mean cosine of the angle between the surface normal and the line of sight is at
least this value. At an angle of 60 degrees, which has this cosine, letters are squeezed to half their width (common
practice, no source).
"""

READ_PIXELS = 12.0
"""Moving lettering can be read only if its capitals have at least this height, in pixels of the picture (common
practice, no source).
"""


@dataclass(frozen=True, slots=True)
class Shot:
    """The camera and the size of a picture.

    Attributes:
        camera: The camera.
        width: Width of the picture, in pixels.
        height: Height of the picture, in pixels.
    """

    camera: Camera
    width: int = 1920
    height: int = 1080


class Obstacle(Enum):
    """Reasons why lettering can't be read; the values are shown to the user."""

    HIDDEN = "hidden by another part of the surface"
    AWAY = "on the far side or not on the surface"
    OUTSIDE = "outside the picture"
    MIRRORED = "mirrored"
    TURNED = "rotated too far"
    ASLANT = "seen at too shallow an angle"
    SMALL = "too small"
    FAINT = "too little contrast"


@dataclass(frozen=True, eq=False)
class Legibility:
    """The visibility of a lettering box over n frames.

    `seen`, `facing` and `hidden` are shares of the box's samples. If nothing is visible in a frame, `foreshortening`
    and the attributes after it are NaN.

    Attributes:
        rectangle: The lettering box, in UV.
        frames: The n frame numbers.
        seen: Share that is visible, (n,): on the surface, in the picture, facing the camera and not hidden.
        facing: Share that is on the surface and faces the camera, hidden or not, (n,).
        hidden: Share that faces the camera but is behind another part of the surface, (n,).
        foreshortening: Mean cosine of the angle between the surface normal and the direction to the camera, over the
            visible part, (n,); 1 if the surface is seen head-on.
        height: Median height of the visible part of the box in the picture, perpendicular to the lines of lettering, in
            pixels, (n,).
        turned: Mean counter-clockwise angle from the picture's horizontal to the lines of lettering, in degrees, (n,).
        mirrored: Share of the visible part in which lettering is mirrored, (n,).
    """

    rectangle: Rectangle
    frames: tuple[Fraction, ...]
    seen: Floats
    facing: Floats
    hidden: Floats
    foreshortening: Floats
    height: Floats
    turned: Floats
    mirrored: Floats

    def readable(self, share_of_height: float = 1.0) -> Flags:
        """Return whether lettering can be read in each frame, (n,).

        Args:
            share_of_height: Height of the letters, as a fraction of the height of the box.
        """
        return np.array([one is None for one in self.obstacles(share_of_height)], bool)

    def obstacles(self, share_of_height: float = 1.0) -> tuple[Obstacle | None, ...]:
        """Find the reason why lettering can't be read, for each of the n frames.

        Args:
            share_of_height: Height of the letters, as a fraction of the height of the box.

        Returns:
            The reason for each frame; None if lettering can be read. If too little of the box is visible, the
            reason is the one that accounts for the largest invisible part of the box. Otherwise, the reason is the
            first that applies, in the order of `Obstacle`.
        """
        away, outside = 1.0 - self.facing, self.facing - self.hidden - self.seen
        unseen = self.seen < READ_SEEN
        causes = {
            Obstacle.HIDDEN: unseen & (self.hidden >= np.maximum(away, outside)),
            Obstacle.AWAY: unseen & (away >= outside),
            Obstacle.OUTSIDE: unseen,
            Obstacle.MIRRORED: self.mirrored >= 0.5,
            Obstacle.TURNED: np.abs(self.turned) > READ_TURN.value,
            Obstacle.ASLANT: self.foreshortening < _READ_COSINE,
            Obstacle.SMALL: self.height * share_of_height < READ_PIXELS,
        }
        table = np.stack([*causes.values(), np.ones(len(self.frames), bool)])
        kinds: tuple[Obstacle | None, ...] = (*causes, None)
        return tuple(kinds[which] for which in table.argmax(axis=0).tolist())

    def ranges(self, share_of_height: float = 1.0) -> tuple[tuple[Fraction, Fraction], ...]:
        """Find the first and last frame of each run of consecutive frames in which lettering can be read.

        Args:
            share_of_height: Height of the letters, as a fraction of the height of the box.
        """
        good = np.concatenate([[False], self.readable(share_of_height), [False]])
        begins, ends = np.flatnonzero(good[1:] & ~good[:-1]), np.flatnonzero(~good[1:] & good[:-1])
        return tuple((self.frames[a], self.frames[b - 1]) for a, b in zip(begins, ends, strict=True))


def legibility(
    series: Series,
    shot: Shot,
    rectangle: Rectangle,
    faces: Flags | None = None,
    progress: Progress = quiet,
    cancelled: Cancel = never,
) -> Legibility:
    """Judge a lettering box in every frame that has the same faces and UV indices as the reference frame. These frames
    are read again.

    Args:
        series: The sequence.
        shot: The picture.
        rectangle: The lettering box, in UV.
        faces: Whether each face carries the lettering, (f,); None for all faces. Of faces that overlap in the texture,
            the first is used.
        progress: Called after each frame.
        cancelled: Returns whether to stop.

    Raises:
        Cancelled: The work was stopped.
    """
    indices = alike(series)
    triangulator = Triangulator()
    rows, columns = LETTER_SAMPLES
    samples, uvs = None, None
    table = []
    for frame in replay(series, indices, progress, cancelled):
        triangles = triangulator.of(frame)
        if samples is None or frame.uvs is not uvs:
            uvs = frame.uvs
            samples = locate(uv_corners(frame, triangles, faces), rectangle, rows, columns)
        table.append(see(frame, triangles, samples, shot, rectangle))
    values = {name: np.array([row[name] for row in table]) for name in LINES_MEASURES}
    return Legibility(rectangle, tuple(series.facts[index].number for index in indices), **values)


LINES_MEASURES = ("seen", "facing", "hidden", "foreshortening", "height", "turned", "mirrored")
"""Names of the measurements of lettering in a frame, each an attribute of `Legibility`."""


@dataclass(frozen=True, eq=False)
class Lines:
    """The direction of lines of lettering on the texture.

    Attributes:
        along: Vector of any length along a line, in UV, (2,).
        upward: Vector up from a line, in UV, (2,). Its length is the height of the lettering.
    """

    along: Floats
    upward: Floats

    @classmethod
    def of_box(cls, rectangle: Rectangle) -> Lines:
        """Return lines of lettering that run from left to right on the texture and are as high as a lettering box."""
        return cls(np.array([1.0, 0.0]), np.array([0.0, rectangle.height]))


def uv_corners(frame: Frame, triangles: Triangles, faces: Flags | None) -> Floats:
    """Return the UVs at the corners of triangles, (t, 3, 2); NaN at corners without a UV, and for triangles of unused
    faces.

    Args:
        frame: The frame.
        triangles: Its t triangles.
        faces: Whether each face is used, (f,); None to use all faces.
    """
    index = frame.corners.vt[triangles.corners]
    if not len(frame.uvs):
        return np.full((*index.shape, 2), np.nan)
    none = index < 0
    if faces is not None:
        none |= ~faces[triangles.face][:, None]
    return np.where(none[..., None], np.nan, frame.uvs[:, :2][index])


def see(frame: Frame, triangles: Triangles, samples: Samples, shot: Shot, rectangle: Rectangle) -> dict[str, float]:
    """Measure the visibility of a lettering box in one frame. Return the measurements by the names in LINES_MEASURES.

    Args:
        frame: The frame.
        triangles: Its triangles.
        samples: Points of the box, from `locate`.
        shot: The picture.
        rectangle: The box.
    """
    return look(frame, triangles, samples, shot, Lines.of_box(rectangle)).row


@dataclass(frozen=True, eq=False)
class SeenLettering:
    """The visibility of lettering in one frame.

    Attributes:
        row: The measurements, by the names in LINES_MEASURES.
        seen: Whether each sample is visible, (s,).
        hidden: Whether each sample faces the camera but is behind another part of the surface, (s,).
        outside: Whether each sample faces the camera and is not hidden, but is outside the picture, (s,).
        cosine: Cosine of the angle between the surface normal and the direction to the camera at each sample, (s,).
    """

    row: dict[str, float]
    seen: Flags
    hidden: Flags
    outside: Flags
    cosine: Floats


def look(frame: Frame, triangles: Triangles, samples: Samples, shot: Shot, lines: Lines) -> SeenLettering:
    """Measure the visibility of lettering in one frame.

    Args:
        frame: The frame.
        triangles: Its triangles.
        samples: Points of the lettering, from `locate`.
        shot: The picture.
        lines: The lines of the lettering.
    """
    own = samples.triangle
    points = samples.on(frame.positions[triangles.vertices[own]])
    camera = shot.camera
    eye = Eye(camera.position, camera.axes, not camera.perspective)
    metric = measure_frame(frame, triangles.of(own))
    cosine = _cosines(metric.normal.T, eye.from_points(points))
    facing = (cosine > 0.0) & metric.usable
    free = np.zeros(len(own), bool)
    free[facing] = unhidden(points[facing], own[facing], frame.positions, triangles.vertices, eye)
    pixels = camera.project(points, shot.width, shot.height)
    within = (
        (pixels[:, 0] >= 0.0) & (pixels[:, 0] <= shot.width) & (pixels[:, 1] >= 0.0) & (pixels[:, 1] <= shot.height)
    )
    seen, hidden = free & within, facing & ~free
    row = {"seen": seen.sum(), "facing": facing.sum(), "hidden": hidden.sum()}
    shares = {name: count / max(1, samples.asked) for name, count in row.items()}
    lettering = _lettering(metric, seen, points, cosine, shot, lines)
    return SeenLettering(shares | lettering, seen, hidden, free & ~within, cosine)


def _lettering(
    metric: Metric, seen: Flags, points: Floats, cosine: Floats, shot: Shot, lines: Lines
) -> dict[str, float]:
    """Measure the visible part of lettering in the picture.

    Args:
        metric: The surface at the s samples.
        seen: Whether each sample is visible, (s,).
        points: Positions of the samples, (s, 3).
        cosine: Cosine of the angle between the surface normal and the direction to the camera, (s,).
        shot: The picture.
        lines: The lines of the lettering.

    Returns:
        `foreshortening` and the measurements after it in LINES_MEASURES; NaN if no sample is visible.
    """
    if not seen.any():
        return dict.fromkeys(LINES_MEASURES[3:], float("nan"))
    by_u, by_v = metric.by_u[:, seen].T, metric.by_v[:, seen].T
    along, upward = (_flow(shot, points[seen], way[0] * by_u + way[1] * by_v) for way in (lines.along, lines.upward))
    double = along[:, 0] * upward[:, 1] - along[:, 1] * upward[:, 0]
    width = np.linalg.norm(along, axis=1)
    height = np.divide(np.abs(double), width, out=np.zeros_like(width), where=width > 0.0)
    run = (along[:, 0] + 1j * along[:, 1]) * np.sign(double) / np.where(width > 0.0, width, 1.0)
    return {
        "foreshortening": float(cosine[seen].mean()),
        "height": float(np.median(height)),
        "turned": float(np.degrees(np.angle(run.sum()))),
        "mirrored": float((double < 0.0).mean()),
    }


def _flow(shot: Shot, points: Floats, vectors: Floats) -> Floats:
    """Find how fast points move in the picture if they move along vectors in space.

    For a perspective camera, this is the derivative of (x / z, y / z) times the focal length in pixels.

    Args:
        shot: The picture.
        points: The points, (s, 3).
        vectors: The vector along which each point moves, (s, 3).

    Returns:
        Pixels to the right and up per unit of each vector, (s, 2).
    """
    camera = shot.camera
    moved = vectors @ camera.axes.T
    if camera.parallel_height is not None:
        flat: Floats = moved[:, :2] * (shot.height / camera.parallel_height)
        return flat
    place = camera.to_camera(points)
    focal = shot.height / (2.0 * np.tan(np.radians(camera.field_of_view) / 2.0))
    flow: Floats = (moved[:, :2] - place[:, :2] / place[:, 2:] * moved[:, 2:]) * focal / place[:, 2:]
    return flow


def _cosines(a: Floats, b: Floats) -> Floats:
    """Return the cosine of the angle between each vector of `a`, (s, 3), and the corresponding vector of `b`, (s, 3); 0
    if a vector has no length.
    """
    size = np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1)
    cosines: Floats = np.divide(np.einsum("si,si->s", a, b), size, out=np.zeros_like(size), where=size > 0.0)
    return cosines
