"""Multiply arrays of numbers by powers of ten, with more precision than float64.

During the calculation, each product is represented by the sum of two float64 values (T. J. Dekker, A floating-point
technique for extending the available precision, 1971).
"""

from __future__ import annotations

from fractions import Fraction
from functools import cache

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats

LEAST_POWER, MOST_POWER = -280, 250
"""Minimum and maximum power of ten by which a number below 10^30 is multiplied. They are chosen so that no product or
error term leaves the range of float64."""

_SPLITTER = 2.0**27 + 1.0
_RELATIVE_ERROR = 2.0**-98
"""Bound on the relative error: each of the seven roundings in `scaled` is off by at most 2^-103 of the result."""

Pair = tuple[Floats, Floats]


def scaled(front: Floats, back: Floats, shift: int, power: npt.NDArray[np.int64]) -> Pair:
    """Compute bounds of (front * 10^shift + back) * 10^power. Equal bounds are the correctly rounded product.

    Args:
        front: Integers from 0 to 2^53, (n,).
        back: Integers from 0 to 2^53, (n,).
        shift: An exponent of ten, 0 to 22.
        power: Exponents of ten, LEAST_POWER to MOST_POWER, (n,).

    Returns:
        The lower and the upper bound, each rounded to float64, (n,).
    """
    high, low = _product(front, np.full_like(front, 10.0**shift))
    number, rest = _sum(high, back)
    rest += low
    index = power - LEAST_POWER
    powers = _powers()
    ten, ten_rest = powers[0].take(index), powers[1].take(index)
    result, error = _product(number, ten)
    error += number * ten_rest + rest * ten
    bound = result * _RELATIVE_ERROR
    return result + (error - bound), result + (error + bound)


def rounded_multiples(values: Floats, decimals: int) -> npt.NDArray[np.int64]:
    """Round values * 10^decimals to integers, halves to even, as Python's '%.*f' does.

    Only a product that seems to be halfway between two integers can be rounded to the wrong integer; the sign of its
    exact error then decides.

    Args:
        values: Numbers from 0 up, whose products are below 2^51, (n, c).
        decimals: An exponent of ten, 0 to 22.

    Returns:
        The integers, (n, c).
    """
    power = 10.0**decimals
    product = values * power
    nearest = np.rint(product)
    beyond = product - nearest
    tied = np.abs(beyond) == 0.5
    if tied.any():
        side, factors = beyond[tied], values[tied]
        _, error = _product(factors, np.full_like(factors, power))
        nearest[tied] += ((side == 0.5) & (error > 0)).astype(float) - ((side == -0.5) & (error < 0))
    return nearest.astype(np.int64)


def _product(one: Floats, other: Floats) -> Pair:
    """Return `one * other`, rounded, and the exact rounding error (Dekker 1971, with G. W. Veltkamp's splitting)."""
    product = one * other
    one_high, one_low = _halves(one)
    other_high, other_low = _halves(other)
    error = one_high * other_high - product
    error += one_high * other_low
    error += one_low * other_high
    error += one_low * other_low
    return product, error


def _halves(number: Floats) -> Pair:
    large = number * _SPLITTER
    high = large - (large - number)
    return high, number - high


def _sum(one: Floats, other: Floats) -> Pair:
    """Return `one + other`, rounded, and the exact rounding error (D. E. Knuth, TAOCP volume 2, section 4.2.2)."""
    total = one + other
    other_part = total - one
    return total, (one - (total - other_part)) + (other - other_part)


def _power(exponent: int) -> tuple[float, float]:
    exact = Fraction(10) ** exponent
    nearest = float(exact)
    return nearest, float(exact - Fraction(nearest))


@cache
def _powers() -> Floats:
    """Return powers of ten as pairs, (2, n). They are made on demand, because few files need them."""
    return np.array([_power(exponent) for exponent in range(LEAST_POWER, MOST_POWER + 1)]).T.copy()
