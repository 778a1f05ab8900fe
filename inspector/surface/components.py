"""Connected components of a graph."""

from __future__ import annotations

import numpy as np

from inspector import _native
from inspector.arrays import Indices, Integers


def connected(count: int, links: Integers) -> Indices:
    """Find the connected component of each node of a graph.

    Each node points to its root, at first to itself. Where a link joins nodes with different roots, the higher root is
    made to point to the lower root. This is repeated until all links join nodes with the same root (after Shiloach and
    Vishkin 1982).

    Args:
        count: Number of nodes.
        links: Pairs of linked nodes, (l, 2). Nodes are counted from 0.

    Returns:
        The component of each node, (count,). Components are numbered from 0 in the order of their lowest nodes.
    """
    if _native.active:
        components = np.empty(count, np.int32)
        _native.core.find_components(np.ascontiguousarray(links, np.int32), components)
        return components.astype(np.int64)
    root = np.arange(count, dtype=links.dtype)
    first, second = links[:, 0], links[:, 1]
    while True:
        a, b = root[first], root[second]
        apart = a != b
        if not apart.any():
            return np.asarray((np.cumsum(root == np.arange(count)) - 1)[root])
        first, second = first[apart], second[apart]
        np.minimum.at(root, np.maximum(a, b)[apart], np.minimum(a, b)[apart])
        while not np.array_equal(further := root[root], root):
            root = further
