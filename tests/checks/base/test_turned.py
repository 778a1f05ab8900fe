"""What counts as a reflection from one frame to the next, on either side of each threshold."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.checks.base.turned import reflections

MIRROR = np.array([1.0, 1.0, -1.0])


def cloud(flat: float, noise: float, of_mirrored: float) -> Floats:
    """Twelve frames of 4,000 points, the seventh mirrored in z.

    Args:
        flat: Share of z in the squared spread. The best rotation misses a mirrored cloud by four times as much
            (Kabsch 1976: the sign of the smallest singular value).
        noise: Root mean square of the step between two frames, as a share of the spread.
        of_mirrored: The same of the steps to the mirrored frame.
    """
    random = np.random.default_rng(5)
    points = random.normal(size=(4000, 3))
    points *= np.sqrt([(1 - flat) / 2, (1 - flat) / 2, flat]) / points.std(axis=0)
    steps = np.full(12, noise / np.sqrt(2.0))
    steps[6] = np.sqrt(max(0.0, of_mirrored**2 - noise**2 / 2.0))
    frames = np.stack([points + random.normal(0, step / np.sqrt(3.0), points.shape) for step in steps])
    frames[6] *= MIRROR
    return frames


@pytest.mark.parametrize(
    ("places", "found"),
    [
        (cloud(1 / 3, 0.15, 0.19), True),  # a fifth of the spread may be missed
        (cloud(1 / 3, 0.15, 0.21), False),
        (cloud(0.9e-4, 1e-4, 1e-4), False),  # and by a rotation a fiftieth must be: 4 times 1e-4 of its square
        (cloud(1.1e-4, 1e-4, 1e-4), True),
        (cloud(0.0065, 0.045, 0.1), False),  # twice as far as by the reflection: 0.01 + 4 flat > 4 times 0.01
        (cloud(0.0085, 0.045, 0.1), True),
        (cloud(0.0036, 0.045, 0.045), False),  # three times as far as usual: 0.002 + 4 flat > 9 times 0.002
        (cloud(0.0046, 0.045, 0.045), True),
    ],
)
def test_what_is_mirrored(places: Floats, found: bool) -> None:
    assert reflections(places).tolist() == [found and index in (5, 6) for index in range(11)]


def beating(period: float) -> Floats:
    """Forty frames of a bent wing of 400 points that beats."""
    points = np.random.default_rng(3).uniform(-1, 1, (400, 3)) * [1.0, 0.6, 0.05]
    beat = np.sin(2 * np.pi * np.arange(40) / period)
    frames = np.stack([points + np.outer(points[:, 0] ** 2, [0.0, 0.0, 0.5 * up]) for up in beat])
    frames[:, :, 2] += 0.3 * points[:, 0] * points[:, 1]
    return frames


def test_a_mirrored_frame_of_poses_that_are_held() -> None:
    frames = beating(60.0)[np.repeat(np.arange(20), 2)]
    assert not reflections(frames).any()
    frames[21] *= MIRROR
    assert np.flatnonzero(reflections(frames)).tolist() == [20, 21]
