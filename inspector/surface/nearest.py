"""For each of many points, find the nearest point of the same kind."""

from __future__ import annotations

from itertools import product

import numpy as np

from inspector.arrays import Flags, Floats, Indices
from inspector.surface.refinement import Colours, mixed

_PAIRS = 1 << 21
"""Approximate number of pairs of points that are compared at a time."""


def nearest_alike(
    points: Floats, kinds: Indices, queries: Floats, query_kinds: Indices, within: Floats, apart: bool = False
) -> tuple[Indices, Floats]:
    """Find the nearest point of the same kind for each query point.

    Args:
        points: The points, (n, 3).
        kinds: The kind of each point, (n,), from 0 to k - 1.
        queries: The query points, (m, 3).
        query_kinds: The kind of each query point, (m,).
        within: The distance within which points of each kind must be found, (k,). Points that are farther away, or
            farther than twice the extent of their kind, may be missed.
        apart: Whether to ignore points at exactly the position of the query point.

    Returns:
        Index of the nearest point, (m,), -1 if none was found; and its distance from the query point, (m,), inf if none
        was found.
    """
    best, index = np.full(len(queries), np.inf), np.full(len(queries), -1)
    size, reach = _cells(points, kinds, len(within))
    reach = np.minimum(reach, within)
    left = np.arange(len(queries))
    while len(left):
        keys = _keys(np.floor(points / size[kinds][:, None]), kinds)
        order = np.argsort(keys)
        filled, first, number = np.unique(keys[order], return_index=True, return_counts=True)
        for offset in product((-1.0, 0.0, 1.0), repeat=3):
            cells = np.floor(queries[left] / size[query_kinds[left]][:, None]) + offset
            wanted = _keys(cells, query_kinds[left])
            at = np.minimum(np.searchsorted(filled, wanted), len(filled) - 1)
            found = np.where(filled[at] == wanted, number[at], 0)
            for part in _parts(found):
                query = np.repeat(left[part], found[part])
                point = order[_spread(first[at[part]], found[part])]
                far = np.linalg.norm(points[point] - queries[query], axis=1)
                fits = (kinds[point] == query_kinds[query]) & ~(apart & (far == 0.0))
                query, point, far = query[fits], point[fits], far[fits]
                np.minimum.at(best, query, far)
                hits = far == best[query]
                index[query[hits]] = point[hits]
        own = query_kinds[left]
        left = left[(best[left] > size[own]) & (size[own] <= reach[own])]
        size = size * 2.0
    return index, best


def _cells(points: Floats, kinds: Indices, count: int) -> tuple[Floats, Floats]:
    """Choose the cell sizes of the grid for each kind of point.

    Returns:
        The first size to try, (k,), at which a sheet of points has about one point per cell; and the largest size to
        try, (k,).
    """
    low, high = np.full((count, 3), np.inf), np.full((count, 3), -np.inf)
    np.minimum.at(low, kinds, points)
    np.maximum.at(high, kinds, points)
    number = np.bincount(kinds, minlength=count)
    extent = np.linalg.norm(np.where(number[:, None] > 0, high - low, 0.0), axis=1)
    size = extent / np.sqrt(np.maximum(number, 1))
    return np.where(size > 0.0, size, 1.0), 2.0 * extent


def _keys(cells: Floats, kinds: Indices) -> Colours:
    """Compute a number for each pair of a cell, (m, 3), and a kind, (m,).

    The number is computed from the bits of the coordinates, because the coordinates may be too large for an integer
    type.
    """
    keys = mixed(kinds.astype(np.uint64))
    for axis in (cells + 0.0).T:  # -0.0 becomes 0.0, because their bits differ
        keys = mixed(keys ^ np.ascontiguousarray(axis).view(np.uint64))
    return keys


def _parts(counts: Indices) -> list[Indices]:
    """Split the queries into groups of about _PAIRS pairs each, leaving out queries without a pair."""
    some = np.flatnonzero(counts)
    if not len(some):
        return []
    pieces = np.cumsum(counts[some]) // _PAIRS
    return [piece for piece in np.split(some, np.flatnonzero(np.diff(pieces)) + 1) if len(piece)]


def _spread(starts: Indices, counts: Indices) -> Indices:
    """List `counts[i]` consecutive numbers from `starts[i]` on, for each i in order, in one array."""
    ends = np.cumsum(counts)
    return np.repeat(starts - (ends - counts), counts) + np.arange(int(ends[-1]))


def spacing_alike(points: Floats, kinds: Indices) -> tuple[Floats, Flags]:
    """Find how far each point is from the nearest point of its kind at a different position.

    Args:
        points: The points, (n, 3).
        kinds: The kind of each point, (n,), from 0 on.

    Returns:
        The distances, (n,), inf if all points of the kind have the same position; and whether other points of the kind
        share the point's position, (n,).
    """
    count = int(kinds.max(initial=-1)) + 1
    _, first, which = np.unique(np.column_stack([kinds, points]), axis=0, return_index=True, return_inverse=True)
    which = which.reshape(-1)
    far = nearest_alike(points[first], kinds[first], points[first], kinds[first], np.full(count, np.inf), apart=True)[1]
    return far[which], np.bincount(which)[which] > 1
