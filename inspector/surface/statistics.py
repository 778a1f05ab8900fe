"""Percentiles over a surface, in which every triangle counts by its area."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats


def weighted_percentiles(values: Floats, weights: Floats, shares: tuple[float, ...]) -> tuple[float, ...]:
    """For each share (0 to 1) the least value that at least this share of all weight lies at or below.

    NaN where nothing weighs anything.
    """
    order = np.argsort(values)
    heaped = np.cumsum(weights[order])
    if not len(heaped) or heaped[-1] <= 0.0:
        return (float("nan"),) * len(shares)
    # rounding in the sum must not lift a share that is met exactly over the edge
    places = np.searchsorted(heaped, np.array(shares) * heaped[-1] * (1.0 - 1e-12))
    return tuple(values[order[np.minimum(places, len(order) - 1)]].tolist())
