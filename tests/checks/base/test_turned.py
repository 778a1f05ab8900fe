"""Tests of recognising that vertices are mirrored from one frame to the next."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.arrays import Floats
from inspector.checks.base.turned import reflections, rigid_misses

MIRROR = np.array([1.0, 1.0, -1.0])


def cloud(flat: float, noise: float, of_mirrored: float) -> Floats:
    """Return 12 frames of a cloud of points. One frame is mirrored.

    `flat` is the share of z in the squared spread of the points. If a rotation is fitted to a mirrored cloud, the
    squared residual is four times this share (Kabsch 1976: the sign of the smallest singular value).

    `noise` is the root mean square of the displacement between consecutive frames, as a fraction of the spread.
    `of_mirrored` is the same fraction for the displacement between the mirrored frame and its neighbours.
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
        (cloud(1 / 3, 0.15, 0.19), True),  # MIRROR_MISS: 0.2
        (cloud(1 / 3, 0.15, 0.21), False),
        (cloud(0.9e-4, 1e-4, 1e-4), False),  # MIRROR_FLAT: 4 * flat = 0.02**2
        (cloud(1.1e-4, 1e-4, 1e-4), True),
        (cloud(0.0065, 0.045, 0.1), False),  # MIRROR_BETTER: 0.01 + 4 * flat = 2**2 * 0.01
        (cloud(0.0085, 0.045, 0.1), True),
        (cloud(0.0036, 0.045, 0.045), False),  # MIRROR_FACTOR: 0.002 + 4 * flat = 3**2 * 0.002
        (cloud(0.0046, 0.045, 0.045), True),
    ],
)
def test_what_is_mirrored(places: Floats, found: bool) -> None:
    assert reflections(places).tolist() == [found and index in (5, 6) for index in range(11)]


def beating(period: float) -> Floats:
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


@pytest.mark.parametrize("after", [0.0, 0.5, np.nan], ids=["also one point", "a small body", "not a number"])
def test_points_without_extent_are_infinitely_far_from_any_pose(after: float) -> None:
    corners = np.array([[x, y, z] for x in (0.0, 1.0) for y in (0.0, 1.0) for z in (0.0, 1.0)])
    before = np.stack([np.zeros((8, 3)), corners])
    turn = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    misses = rigid_misses(before, np.stack([corners * after, corners @ turn.T]))
    assert [list(map(float, one)) for one in misses] == [[np.inf, pytest.approx(0.0, abs=1e-12)]] * 2
