"""The opacity of a material, from `d` or `Tr`. Readers interpret `Tr` in opposite ways."""

from __future__ import annotations

import math
from collections.abc import Sequence

from inspector.formats.wavefront.library_lines import Statement
from inspector.formats.wavefront.map_options import is_number
from inspector.threshold import Threshold

OPACITY_DIFFERENCE = Threshold(
    "opacity-difference",
    0.01,
    "If `d` and `1 - Tr` differ by at most this value, they count as the same opacity. Rounding to two decimal places "
    "causes at most this difference, and such a difference is not visible.",
)

TR = "Tr"
"""Key for the value of `Tr` in the `extras` of a glTF material or the `customData` of an OpenUSD material."""

_LARGEST = 1e6
"""If the absolute value of a number is at least this large, the number is not an opacity in any unit."""

_SINGLE = 1e-6
"""Maximum difference between two opacities that count as equal. It is not zero, because files may use single
precision."""


def number_of(statement: Statement | None) -> float | None:
    """Return the value of a `d` or `Tr` statement; None if there is no statement, or if its value is not a finite
    number.

    In `d -halo 0.5`, the value follows an option (MTL File Formats 4.2, 1995).
    """
    words = statement.rest.split()[:2] if statement is not None else []
    if words[:1] == [b"-halo"]:
        words = words[1:]
    number = float(words[0]) if words and is_number(words[0]) else math.nan
    return number if math.isfinite(number) else None


def last_of(statements: Sequence[Statement], keyword: bytes) -> Statement | None:
    """Return the last statement with the given keyword, which overrides the others (common practice, no source); None
    if there is none.

    Args:
        statements: The statements of a material.
        keyword: The keyword in lower case.
    """
    return next((one for one in reversed(statements) if one.keyword == keyword), None)


def lone_tr(statements: Sequence[Statement]) -> Statement | None:
    """Return the `Tr` statement of a material without `d`, if it makes a difference whether `Tr` means opacity or
    transparency; otherwise None.
    """
    transparency = last_of(statements, b"tr")
    value = number_of(transparency)
    if value is None or number_of(last_of(statements, b"d")) is not None:
        return None
    return transparency if abs(value - 0.5) > OPACITY_DIFFERENCE.value else None


def opacity_of(statements: Sequence[Statement]) -> float:
    """Return the opacity of a material, 0 to 1.

    The opacity is `d` or, without `d`, `1 - Tr` (common practice; MTL File Formats 4.2 doesn't define `Tr`). It is 1 if
    there is neither statement. It is also 1 if `Tr` is 1 or more, because nobody exports an invisible surface.
    """
    d, tr = number_of(last_of(statements, b"d")), number_of(last_of(statements, b"tr"))
    if d is not None:
        return min(max(d, 0.0), 1.0)
    return 1.0 if tr is None else _opacity_of_tr(tr)


def _opacity_of_tr(value: float) -> float:
    return 1.0 if value >= 1.0 else min(1.0 - value, 1.0)


def kept_tr(stated: object, opacity: float) -> float | None:
    """Return the value of `Tr` that is stored with a material in a file of another format.

    Args:
        stated: The value of the key `TR`; None if the file has no such key.
        opacity: The opacity of the material in the file.

    Returns:
        The value; None if it is not a number below `_LARGEST` in absolute value, or if the opacity was changed later.
    """
    if not isinstance(stated, float | int) or isinstance(stated, bool) or not abs(stated) < _LARGEST:
        return None
    return float(stated) if math.isclose(opacity, _opacity_of_tr(stated), abs_tol=_SINGLE) else None
