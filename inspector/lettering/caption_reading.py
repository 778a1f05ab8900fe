"""Judge, frame by frame, whether the letters of caption versions can be read on the moving surface."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.lettering.caption_file import Version
from inspector.lettering.caption_font import EM, CaptionFont
from inspector.lettering.caption_layout import CaptionLayout
from inspector.lettering.caption_render import Rendered
from inspector.lettering.legibility import (
    LINES_MEASURES,
    Legibility,
    Lines,
    Obstacle,
    SeenLettering,
    Shot,
    look,
    uv_corners,
)
from inspector.picture.contrast import contrast, least_contrast
from inspector.sequence.run.replay import Progress, alike, quiet, replay
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series
from inspector.surface.locate import Samples, locate
from inspector.surface.triangles import Triangulator
from inspector.threshold import Threshold

_ROWS_PER_EM, _MOST_ROWS, _MOST_COLUMNS = 12, 96, 400
"""Number of rows of samples per em (about twenty samples per letter), and maximum numbers of rows and columns for the
whole text.
"""

_INK = 0.5
"""A sample counts as ink if letters cover at least this fraction of its pixel."""

_FAINTEST = 10.0
"""The contrast of a caption is this percentile of the contrasts of its visible ink: nine tenths of the ink has at least
this contrast (see READ_SEEN).
"""


LETTER_SEEN = Threshold(
    "letter-seen",
    0.5,
    "Minimum share of a letter's ink that must be visible. A letter with a smaller visible share is overlooked or "
    "mistaken for a different letter (common practice, no source). A caption with such a letter counts as unreadable, "
    "even if all other letters are visible.",
)


_LETTER_COSINE = 0.2
"""Minimum cosine of the angle between the surface normal and the line of sight for ink to count as visible. At this
minimum, letters are squeezed to a fifth of their width (common practice, no source).
"""


@dataclass(frozen=True, eq=False)
class LetteredVersion:
    """A version that fits and has been drawn.

    Attributes:
        version: The version as stated.
        font: The font of the version.
        layout: The position of the text on the texture.
        rendered: The texture, and the background of the letters.
        shot: The picture in which the version is judged.
        faces: Whether each face carries the version, (f,).
    """

    version: Version
    font: CaptionFont
    layout: CaptionLayout
    rendered: Rendered
    shot: Shot
    faces: Flags

    @property
    def capital(self) -> float:
        """Height of a capital on the texture, in pixels."""
        height, width = self.rendered.pixels.shape[:2]
        return self.font.capital * float(np.linalg.norm(self.layout.upward * (width, height)))


@dataclass(frozen=True, eq=False)
class CaptionReading:
    """The visibility of a version's letters over n frames.

    Attributes:
        seen: Visibility of the ink. `seen.height` is the height of a capital, in pixels of the picture.
        contrast: Contrast ratio (WCAG 2.x) of the letters to their background, (n,). Nine tenths of the visible ink has
            at least this contrast. NaN if no ink is visible, or if visible ink is on a transparent background.
        needed: Contrast ratio that the letters need at their size in the picture, (n,).
        frames: First and last frame of the range in which the version has to be readable; None for all frames.
        texts: The lines of text.
        by_letter: Visible share of the ink of each of k letters, (n, k). Ink at a grazing angle doesn't count as
            visible. The share is 1 for a space or a letter without samples.
        lost: For each of the n frames, the main reason why letters are not visible (their share in `by_letter` is below
            LETTER_SEEN); None if all letters are visible.
    """

    seen: Legibility
    contrast: Floats
    needed: Floats
    frames: tuple[Fraction, Fraction] | None
    texts: tuple[str, ...]
    by_letter: Floats
    lost: tuple[Obstacle | None, ...]

    def obstacles(self) -> tuple[Obstacle | None, ...]:
        """For each of the n frames, return the reason why the caption can't be read; None if it can be read."""
        faint = self.contrast < self.needed
        return tuple(
            one or lost or (Obstacle.FAINT if pale else None)
            for one, lost, pale in zip(self.seen.obstacles(), self.lost, faint.tolist(), strict=True)
        )

    def letters(self, at: int) -> list[list[tuple[str, float]]]:
        """For each line, return its letters, and the share of each letter's ink that is visible in frame `at`."""
        shares = iter(self.by_letter[at].tolist())
        return [[(letter, next(shares)) for letter in line] for line in self.texts]

    @property
    def wanted(self) -> Flags:
        """For each frame, whether the caption has to be readable, (n,)."""
        first, last = self.frames or (self.seen.frames[0], self.seen.frames[-1])
        return np.array([first <= number <= last for number in self.seen.frames], bool)

    @property
    def unreadable(self) -> tuple[Fraction, ...]:
        """The numbers of the frames in which the caption has to be readable but is not; the first and the last frame of
        the stated range if it contains no judged frame.
        """
        wanted = self.wanted
        if self.frames is not None and not wanted.any():
            return self.frames
        rows = zip(self.seen.frames, self.obstacles(), wanted.tolist(), strict=True)
        return tuple(number for number, obstacle, judged in rows if judged and obstacle is not None)


def read_captions_in(
    series: Series, lettered: Sequence[LetteredVersion], progress: Progress = quiet, cancelled: Cancel = never
) -> tuple[CaptionReading, ...]:
    """Judge every version in every frame that has the same faces and UV indices as the reference frame. These frames
    are read again.

    Args:
        series: The sequence.
        lettered: The versions.
        progress: Called after each frame.
        cancelled: Returns whether to stop.

    Raises:
        Cancelled: The work was stopped.
    """
    indices = alike(series)
    triangulator = Triangulator()
    uvs = None
    inks: list[_Ink] = []
    rows: list[list[dict[str, float]]] = [[] for _ in lettered]
    letters: list[list[tuple[Floats, Obstacle | None]]] = [[] for _ in lettered]
    for frame in replay(series, indices, progress, cancelled):
        triangles = triangulator.of(frame)
        if uvs is None or frame.uvs is not uvs:
            uvs = frame.uvs
            inks = [_ink(one, uv_corners(frame, triangles, one.faces)) for one in lettered]
        for one, ink, table, seen_letters in zip(lettered, inks, rows, letters, strict=True):
            lettering_seen = look(frame, triangles, ink.samples, one.shot, ink.lines)
            ratios = ink.contrast[lettering_seen.seen]
            faintest = float(np.percentile(ratios, _FAINTEST)) if lettering_seen.seen.any() else float("nan")
            table.append(lettering_seen.row | {"contrast": faintest})
            seen_letters.append(_by_letter(ink, lettering_seen))
    numbers = tuple(series.facts[index].number for index in indices)
    return tuple(
        _reading(one, numbers, table, seen_letters)
        for one, table, seen_letters in zip(lettered, rows, letters, strict=True)
    )


def _by_letter(ink: _Ink, lettering_seen: SeenLettering) -> tuple[Floats, Obstacle | None]:
    """Measure how much of each letter is visible in a frame.

    Returns:
        The visible share of each letter's ink, (k,); and the main reason why parts of letters are invisible. The
        reason is None if every share is at least `LETTER_SEEN`.
    """
    seen = lettering_seen.seen & (lettering_seen.cosine >= _LETTER_COSINE)
    sums = np.bincount(ink.letter[seen], minlength=len(ink.asked))
    shares: Floats = np.divide(sums, ink.asked, out=np.ones(len(ink.asked)), where=ink.asked > 0)
    lost = shares < LETTER_SEEN.value
    if not lost.any():
        return shares, None
    of_lost = lost[ink.letter]
    causes = {
        Obstacle.HIDDEN: int((lettering_seen.hidden & of_lost).sum()),
        Obstacle.OUTSIDE: int((lettering_seen.outside & of_lost).sum()),
        Obstacle.ASLANT: int((lettering_seen.seen & ~seen & of_lost).sum()),
    }
    causes[Obstacle.AWAY] = int(ink.asked[lost].sum()) - int(sums[lost].sum()) - sum(causes.values())
    return shares, max(causes, key=lambda cause: causes[cause])


def _reading(
    one: LetteredVersion,
    numbers: tuple[Fraction, ...],
    table: list[dict[str, float]],
    letters: list[tuple[Floats, Obstacle | None]],
) -> CaptionReading:
    columns = {name: np.array([row[name] for row in table]) for name in (*LINES_MEASURES, "contrast")}
    ratio = columns.pop("contrast")
    seen = Legibility(one.layout.rectangle, numbers, **columns)
    needed = least_contrast(seen.height / one.font.capital, one.font.bold)
    by_letter, lost = np.array([shares for shares, _ in letters]), tuple(cause for _, cause in letters)
    return CaptionReading(seen, ratio, needed, one.version.frames, one.version.texts, by_letter, lost)


@dataclass(frozen=True, eq=False)
class _Ink:
    """Samples of the ink of a version.

    Attributes:
        samples: The s samples of the ink that are on the surface.
        contrast: Contrast ratio of the letters to their background at each sample, (s,).
        letter: Index of each sample's letter, (s,), counted from 0 across all lines.
        asked: Number of samples of each of the k letters, on the surface or not, (k,).
        lines: The lines of text.
    """

    samples: Samples
    contrast: Floats
    letter: Indices
    asked: Indices
    lines: Lines


def _ink(one: LetteredVersion, uv: Floats) -> _Ink:
    """Sample the ink of a version at the cell centres of a grid over the text.

    Args:
        one: The version.
        uv: UVs at the corners of the triangles, (t, 3, 2).
    """
    box, layout = one.layout.ink_box, one.layout
    em = np.abs(layout.across) + np.abs(layout.upward)
    sides = np.ceil(_ROWS_PER_EM * np.array([box.width, box.height]) / em)
    columns, rows = np.clip(sides, 2, (_MOST_COLUMNS, _MOST_ROWS)).astype(int).tolist()
    rendered = one.rendered
    height, width = rendered.pixels.shape[:2]
    across, upward = (np.arange(columns) + 0.5) / columns * box.width, (np.arange(rows) + 0.5) / rows * box.height
    column, row = np.floor(layout.middle)  # the unit square in which the text is drawn
    u, v = box.left - column + across, box.bottom - row + upward
    x = np.clip((u * width).astype(int) - rendered.left, 0, rendered.ink.shape[1] - 1)
    y = np.clip(((1.0 - v) * height).astype(int) - rendered.top, 0, rendered.ink.shape[0] - 1)
    inked = (rendered.ink[np.ix_(y, x)] >= _INK).ravel()
    ratios = _contrasts(one, y, x).ravel()
    samples = locate(uv, box, rows, columns)
    kept = inked[samples.cell]
    chosen = Samples(samples.triangle[kept], samples.weights[kept], samples.cell[kept], int(inked.sum()))
    letter = _letters(one, np.stack(np.meshgrid(box.left + across, box.bottom + upward), axis=-1).reshape(-1, 2))
    asked: Indices = np.bincount(letter[inked], minlength=sum(map(len, one.version.texts)))
    lines = Lines(layout.across, layout.upward * one.font.capital)
    return _Ink(chosen, ratios[chosen.cell], letter[chosen.cell], asked, lines)


def _letters(one: LetteredVersion, points: Floats) -> Indices:
    """Return the index of the letter at each point of the texture, (n,), counted from 0 across all lines.

    Args:
        one: The version.
        points: The points, in UV, (n, 2).
    """
    layout, version = one.layout, one.version
    ems = (points - layout.middle) @ np.linalg.inv(np.stack([layout.across, layout.upward]))
    block = one.font.block(version.texts, version.align, version.outline_width if version.outline else 0.0)
    pixels = np.stack([layout.width / 2.0 + ems[:, 0], layout.height / 2.0 - ems[:, 1]], axis=1) * EM
    return one.font.letter_at(version.texts, block, pixels)


def _contrasts(
    one: LetteredVersion,
    y: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
    x: np.ndarray[tuple[int, ...], np.dtype[np.int64]],
) -> Floats:
    """Return the contrast ratio of the letters to their background at rows `y` and columns `x` of the box around the
    ink.

    Returns:
        The ratio at each row and column, (rows, columns); NaN at a pixel whose background is transparent.
    """
    ground = one.rendered.ground[np.ix_(y, x)]
    opacity = one.version.opacity
    letters = np.rint(opacity * np.array(one.version.colour) + (1.0 - opacity) * ground[..., :3]).astype(np.uint8)
    return np.where(ground[..., 3] == 0, np.nan, contrast(letters, ground[..., :3]))
