"""Percentiles over a surface, weighted by area."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats


def weighted_percentiles(values: Floats, weights: Floats, shares: tuple[float, ...]) -> tuple[float, ...]:
    """Compute percentiles of weighted values.

    Args:
        values: (k,).
        weights: (k,), 0 or more.
        shares: Shares of the whole weight, 0 to 1.

    Returns:
        For each share, the least value such that at least that share of the weight is at or below it. NaN if the
        weights are all 0.
    """
    order = np.argsort(values)
    heaped = np.cumsum(weights[order])
    if not len(heaped) or heaped[-1] <= 0.0:
        return (float("nan"),) * len(shares)
    # a share that is met exactly must not be missed because of rounding in the sum
    places = np.searchsorted(heaped, np.array(shares) * heaped[-1] * (1.0 - 1e-12))
    return tuple(values[order[np.minimum(places, len(order) - 1)]].tolist())
