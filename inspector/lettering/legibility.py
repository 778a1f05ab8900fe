"""Whether lettering on a rectangle of the texture can be read in the picture, frame by frame."""

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
from inspector.surface.triangles import Triangles, Triangulator
from inspector.surface.visibility import Eye, unhidden
from inspector.threshold import Threshold

LETTER_SAMPLES = (16, 48)
"""Rows and columns of samples over a lettering box: shares to better than a hundredth."""

READ_SEEN = 0.9
"""Share of a caption that must be visible: of ten letters one may be missing (common practice, no source)."""

_READ_COSINE = 0.5
"""Mean cosine between the surface normal and the line of sight from which lettering is legible: letters at half their
width, 60 degrees aside (common practice, no source)."""

READ_PIXELS = 12.0
"""Height of a capital in the picture, in pixels, from which it is legible in motion (common practice, no source)."""

READ_TURN = Threshold(
    "read-turn",
    45.0,
    "Rotation of lines against the picture's horizontal: beyond it, they are closer to upright columns.",
    unit="degrees",
)


@dataclass(frozen=True, slots=True)
class Shot:
    """Where the picture is taken from, and its size in pixels."""

    camera: Camera
    width: int = 1920
    height: int = 1080


class Obstacle(Enum):
    """What keeps lettering from being read; the values are for people."""

    HIDDEN = "hidden by another part of the surface"
    AWAY = "on the far side, or beside the surface"
    OUTSIDE = "outside the picture"
    MIRRORED = "mirrored"
    TURNED = "turned too far"
    ASLANT = "seen too far from the side"
    SMALL = "too small"
    FAINT = "too little contrast to the ground"


@dataclass(frozen=True, eq=False)
class Legibility:
    """A rectangle of the texture over n frames, as the camera sees it. Shares are of the rectangle, by samples.

    frames: their numbers. seen (n,): on the surface, within the picture, facing the camera and not hidden. facing
    (n,): of what lies on the surface, whatever hides it. hidden (n,): facing, but behind another part of the surface.
    foreshortening (n,): mean cosine between the surface's normal and the way to the camera over what is seen, 1 head
    on. height (n,): pixels of the picture that the rectangle's height comes to, at right angles to its lines of
    lettering; turned (n,): degrees by which these run counter-clockwise from the picture's horizontal; mirrored (n,):
    share of what is seen. Of what is seen, `height` is the median, `turned` the mean direction; NaN where nothing is.
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
        """(n,): frames in which lettering that is so high against the rectangle can be read."""
        return np.array([one is None for one in self.obstacles(share_of_height)], bool)

    def obstacles(self, share_of_height: float = 1.0) -> tuple[Obstacle | None, ...]:
        """What keeps such lettering from being read in each of the n frames, the first that does; None where it can be.

        Of what is not seen, the main cause is given.
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
        """First and last frame of each unbroken run in which it can be read."""
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
    """See every frame that is built like the reference; each is read again.

    faces (f,): those that the lettering is on, None for all. Where they overlap in the texture, the first face there
    stands for all. Raises Cancelled when stopped.
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
"""What is measured of lettering in a frame, by the fields of `Legibility`."""


@dataclass(frozen=True, eq=False)
class Lines:
    """How lines of lettering run on the texture: UV vectors (2,) along a line, of any length, and up from it, as high
    as the lettering whose height is asked for."""

    along: Floats
    upward: Floats

    @classmethod
    def of_box(cls, rectangle: Rectangle) -> Lines:
        """Lines from the left of the texture to its right, as high as a box."""
        return cls(np.array([1.0, 0.0]), np.array([0.0, rectangle.height]))


def uv_corners(frame: Frame, triangles: Triangles, faces: Flags | None) -> Floats:
    """(t, 3, 2); NaN, so that it covers nothing, where a corner has no UV and on other faces than `faces`."""
    index = frame.corners.vt[triangles.corners]
    if not len(frame.uvs):
        return np.full((*index.shape, 2), np.nan)
    none = index < 0
    if faces is not None:
        none |= ~faces[triangles.face][:, None]
    return np.where(none[..., None], np.nan, frame.uvs[:, :2][index])


def see(frame: Frame, triangles: Triangles, samples: Samples, shot: Shot, rectangle: Rectangle) -> dict[str, float]:
    """One frame's row of `Legibility` for a box."""
    return look(frame, triangles, samples, shot, Lines.of_box(rectangle)).row


@dataclass(frozen=True, eq=False)
class Sight:
    """Lettering in one frame.

    Attributes:
        row: Of `Legibility`.
        seen: Which samples are seen, (s,).
        hidden: Which face the camera but are behind another part of the surface, (s,).
        outside: Which would be seen in a larger picture, (s,).
        cosine: Between the surface's normal and the direction to the camera, (s,).
    """

    row: dict[str, float]
    seen: Flags
    hidden: Flags
    outside: Flags
    cosine: Floats


def look(frame: Frame, triangles: Triangles, samples: Samples, shot: Shot, lines: Lines) -> Sight:
    """How lettering that runs as `lines` is seen in one frame."""
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
    return Sight(shares | lettering, seen, hidden, free & ~within, cosine)


def _lettering(
    metric: Metric, seen: Flags, points: Floats, cosine: Floats, shot: Shot, lines: Lines
) -> dict[str, float]:
    """How lettering stands in the picture where it is seen. All but the shot and the lines are by sample."""
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
    """Pixels (s, 2), right and up, by which a point moves in the picture per unit of its way along a vector (s, 3).

    The derivative of the projection (x / z, y / z) times the focal length in pixels, by the quotient rule.
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
    """Cosine between vectors (s, 3) and (s, 3), (s,); 0 where one has no length."""
    size = np.linalg.norm(a, axis=1) * np.linalg.norm(b, axis=1)
    cosines: Floats = np.divide(np.einsum("si,si->s", a, b), size, out=np.zeros_like(size), where=size > 0.0)
    return cosines
