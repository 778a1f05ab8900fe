"""Find frames that are off their path or exchanged with a neighbour.

A motion is smooth at a frame if the frame is near the mean of its two neighbours. If a frame is off its path or
exchanged with a neighbour, correcting the frame makes the motion smooth. A bounce, a start or a cut isn't smooth
either, but no edit of one or two frames makes it smooth.
"""

from __future__ import annotations

from itertools import combinations_with_replacement

import numpy as np

from inspector.arrays import Flags, Floats
from inspector.checks.base.context import CheckContext
from inspector.checks.base.whole_surfaces import whole_surfaces
from inspector.surface.moments import ellipsoid, moments
from inspector.threshold import Threshold

ROUGHNESS_LEFT = Threshold(
    "roughness-left",
    0.15,
    "Frames count as wrong only if replacing one frame, exchanging two frames or changing the times of frames leaves "
    "at most this share of the roughness (the sum of the squared second differences). The limit is below a third, "
    "because a third of the roughness remains if a frame at a sudden turn is replaced (least squares on three second "
    "differences). If a frame of a noisy motion is replaced, about two thirds remain.",
    "of the squared second differences",
)
AROUND = 2
"""Number of frames, on each side of the replaced or exchanged frames, over which roughness is measured."""


def roughness(curve: Floats, low: int, high: int) -> float:
    """Return the sum of the squared distances between each row and the mean of its two neighbours.

    Args:
        curve: Values over time, (n, d).
        low: The first row of the range, which is only used as a neighbour. A negative number means 0.
        high: The row after the last row of the range, at most n. The last row is only used as a neighbour.
    """
    inside = curve[max(0, low) : high]
    return float(np.square(inside[1:-1] - (inside[:-2] + inside[2:]) / 2.0).sum())


def replaced(curve: Floats, index: int) -> Floats:
    """Compute the value, (k,), that makes the curve, (n, k), smoothest at a frame. Only the two values on each side of
    the frame are used.

    Of values a to e at equal time steps, c is replaced by (-a + 4 b + 4 d - e) / 6. This is the value of the cubic
    through the other four (Lagrange's interpolation formula), and gives the smallest sum of squared second differences.
    """
    a, b, d, e = curve[[index - 2, index - 1, index + 1, index + 2]]
    return np.asarray((4.0 * (b + d) - (a + e)) / 6.0)


def single_outliers(curve: Floats, apart: Flags, least: float) -> dict[int, float]:
    """Find single frames that are off the curve: index of the frame -> distance from the curve.

    Args:
        curve: Values over time, (n, d); NaN if a frame has no value.
        apart: For each frame, whether there is a gap before the frame, (n,), as returned by `gaps`.
        least: Minimum distance, in units of the curve.
    """
    found = {}
    for index in range(2, len(curve) - 2):
        window = curve[index - 2 : index + 3]
        if not np.isfinite(window).all() or apart[index - 1 : index + 3].any():
            continue
        smooth = window.copy()
        smooth[2] = replaced(curve, index)
        off = float(np.linalg.norm(window[2] - smooth[2]))
        if off >= least and roughness(smooth, 0, 5) <= ROUGHNESS_LEFT.value * roughness(window, 0, 5):
            found[index] = off
    return found


def exchanged(curve: Floats, apart: Flags) -> list[int]:
    """Return the indices of frames that are exchanged with the next frame.

    Args:
        curve: Values over time, (n, d); NaN if a frame has no value.
        apart: For each frame, whether there is a gap before the frame, (n,), as returned by `gaps`.
    """
    found: list[int] = []
    for index in range(1, len(curve) - 2):
        low, high = max(0, index - AROUND), min(len(curve), index + 2 + AROUND)
        window = curve[low:high]
        if not np.isfinite(window).all() or apart[low + 1 : high].any():
            continue
        turned = window.copy()
        turned[[index - low, index - low + 1]] = window[[index - low + 1, index - low]]
        as_is, restored = roughness(window, 0, len(window)), roughness(turned, 0, len(window))
        steps = np.diff(turned[index - 1 - low : index + 3 - low], axis=0)
        onward = (np.einsum("ij,ij->i", steps[:-1], steps[1:]) > 0.0).all()  # the motion is neither held nor shaking
        if onward and restored <= ROUGHNESS_LEFT.value * as_is and (not found or index > found[-1] + 1):
            found.append(index)
    return found


def places(context: CheckContext) -> Floats:
    """Return the points to follow over time, (n, s, 3), in scene units; NaN in frames that can't be compared.

    These are the sampled vertices, points on the ellipsoid of the surface, or two opposite corners of the bounding box.
    """
    for followed in (context.series.samples, context.once(ellipsoids)):
        if followed.size and 2 * np.isfinite(followed).all(axis=(1, 2)).sum() > len(followed):
            return followed
    return context.series.boxes


def ellipsoids(context: CheckContext) -> Floats:
    """Return points that move with the surface, however the surface is divided into faces (see surface/moments.py).

    Returns:
        Positions, (n, 6, 3), in scene units. NaN in frames that have no such points, or in which faces are missing. If
        at most half of the frames have measured points, the positions are NaN in all frames. Points aren't measured
        where vertices can be followed.
    """
    series = context.series
    points = np.full((len(series.facts), 6, 3), np.nan)
    rows = whole_surfaces(context)
    if 2 * sum(series.facts[index].moments is not None or series.facts[index].still for index in rows) <= len(points):
        return points
    for index in rows:
        facts = series.facts[index]
        if facts.still and index:
            points[index] = points[index - 1]
        elif facts.moments is not None:
            points[index] = ellipsoid(facts.moments)
        elif (measured := moments(context.frame(index))) is not None:  # the vertex counts are equal by chance
            points[index] = ellipsoid(measured)
    return points


def gaps(context: CheckContext) -> Flags:
    """For each frame, whether there is a gap before the frame, (n,); False for the first frame.

    There is a gap unless the frame is exactly one step after the previous frame.
    """
    apart = ~context.series.follows
    apart[:1] = False
    return apart


@np.errstate(over="ignore", invalid="ignore")  # positions out of range can't be followed
def incoherent(context: CheckContext) -> Floats | None:
    """Return the motion of each sampled vertex relative to the surrounding surface.

    There are two estimates of this motion. The first is what remains of the positions after a smooth field over the
    surface is subtracted. It fails for limbs. The second is the offset of the vertex from the mean of its neighbours,
    divided by _OF_FIVE. It fails for small blocks. The estimate with the smoother motion is returned.

    Returns:
        Offset of each vertex, up to a constant, (n, s, 3), in scene units; NaN in frames that can't be compared. None
        if vertices can't be followed.
    """
    fields, relief = _beyond_a_field(context), context.series.reliefs / _OF_FIVE
    if fields is None:
        return None
    rounding = fields[0].size * 100.0**-context.series.reference_facts.decimals
    restless = _restlessness(fields)
    return relief if restless > rounding and _restlessness(relief) < restless else fields


_OF_FIVE = 1.25**0.5
"""Noise in the offset of a vertex from the mean of its four neighbours, as a multiple of the noise in its position: the
square root of 1 + 4/16, if the noise of the five vertices is independent.
"""


def _restlessness(followed: Floats) -> float:
    """Measure how much the motion of points deviates from smooth motion, in scene units squared.

    In smooth motion, a point is near the mean of its positions in the two neighbouring frames. For each frame, the
    squared distances of the points from these means are added up. The result is the median of these sums; NaN if no
    three frames in a row can be compared.
    """
    off = followed[1:-1] - (followed[:-2] + followed[2:]) / 2.0
    squares = np.einsum("nsi,nsi->n", off, off)
    known = np.isfinite(squares)
    return float(np.median(squares[known])) if known.any() else np.nan


def _beyond_a_field(context: CheckContext) -> Floats | None:
    """Subtract the best-fitting cubic field over the surface from the positions of the sampled vertices, (n, s, 3).

    The result is None if vertices can't be followed or are all at one point. If few vertices are sampled, the degree is
    lower.
    """
    samples, reference = context.series.samples, context.series.reference_index
    if reference is None or places(context) is not samples or not np.isfinite(samples[reference]).all():
        return None
    at = samples[reference] - samples[reference].mean(axis=0)
    spread = float(np.sqrt(np.square(at).mean()))
    if not 0.0 < spread < np.inf:
        return None
    x = (at / spread).T
    terms = [np.ones(len(at)), *x]
    for degree, fewest in ((2, 40), (3, 60)):
        if len(at) >= fewest:
            terms += [np.prod(some, axis=0) for some in combinations_with_replacement(x, degree)]
    base = np.linalg.qr(np.stack(terms, axis=1))[0]
    return np.asarray(samples - base @ (base.T @ samples))
