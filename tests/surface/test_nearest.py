"""Tests of the search for the nearest point of the same kind as a query point. Reference: the distances to all points,
computed one by one."""

from __future__ import annotations

import numpy as np
import pytest

from inspector.surface.nearest import nearest_alike


@pytest.mark.parametrize("scale", [1e-30, 1.0, 1e30])
@pytest.mark.parametrize("offset", [0.0, 1e7])
def test_the_nearest_is_at_the_least_of_all_distances(scale: float, offset: float) -> None:
    chance = np.random.default_rng(5)
    points, queries = scale * (offset + chance.random((60, 3))), scale * (offset + chance.random((40, 3)))
    kinds, query_kinds = chance.integers(0, 3, 60), chance.integers(0, 3, 40)
    index, far = nearest_alike(points, kinds, queries, query_kinds, np.full(3, np.inf))
    every = np.linalg.norm(queries[:, None] - points, axis=2)
    every[query_kinds[:, None] != kinds] = np.inf
    np.testing.assert_array_equal(far, every.min(axis=1))
    np.testing.assert_array_equal(every[np.arange(40), index], far)


def test_a_kind_of_one_point_far_from_the_origin() -> None:
    """At 1e30, the indices of grid cells of size 1 are too large for any integer type."""
    points = np.array([[1e30, -1e30, 0.0], [1e30, -1e30, -0.0], [0.0, 0.0, 0.0]])
    index, far = nearest_alike(points, np.array([0, 0, 1]), points, np.array([0, 0, 1]), np.full(2, np.inf))
    np.testing.assert_array_equal(far, 0.0)
    np.testing.assert_array_equal(points[index], points)
