"""Units of length that scenes are built in."""

from __future__ import annotations

from fractions import Fraction

_INCH = Fraction(254, 10_000)

METRES = {
    **{"mm": Fraction(1, 1000), "cm": Fraction(1, 100), "dm": Fraction(1, 10), "m": Fraction(1), "km": Fraction(1000)},
    **{"in": _INCH, "ft": 12 * _INCH, "yd": 36 * _INCH},
}
"""Metres in a unit, exact: SI prefixes (BIPM, SI brochure, 9th edition, table 7); the inch of 25.4 mm, 12 in a foot and
36 in a yard (international yard and pound agreement of 1959)."""
