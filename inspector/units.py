"""Units of length for scenes."""

from __future__ import annotations

from fractions import Fraction

_INCH = Fraction(254, 10_000)
METRES = {
    **{"mm": Fraction(1, 1000), "cm": Fraction(1, 100), "dm": Fraction(1, 10), "m": Fraction(1), "km": Fraction(1000)},
    **{"in": _INCH, "ft": 12 * _INCH, "yd": 36 * _INCH},
}
"""Metres per unit, exact. Sources: SI prefixes (BIPM, SI brochure, 9th edition, table 7); an inch of 25.4 mm, 12 inches
per foot and 36 inches per yard (international yard and pound agreement of 1959)."""
