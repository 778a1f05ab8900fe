"""Whether a moving picture flashes: Web Content Accessibility Guidelines 2.2, success criterion 2.3.1 and its
definition of a general flash, both from memory."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import numpy.typing as npt

from inspector.picture.canvas import Picture

Floats = npt.NDArray[np.float64]

_CELLS = 8
"""Cells of the picture each way; a flash in one of them counts, which is more careful than the quarter of the field of
view that the source asks for."""

_STEP, _DARK = 0.1, 0.8
"""A flash is a pair of opposing changes of relative luminance by a tenth or more, the darker of which is below 0.8."""

_CHANGES = 6
"""Opposing changes in one second that are allowed: three flashes."""

_LUMINANCE = np.array([0.2126, 0.7152, 0.0722])


def luminances(picture: Picture) -> Floats:
    """Mean relative luminance, 0 to 1, of each of 8 x 8 cells of a picture, (64,); sRGB as in IEC 61966-2-1."""
    shown = np.arange(256) / 255.0
    linear = np.where(shown <= 0.04045, shown / 12.92, ((shown + 0.055) / 1.055) ** 2.4)
    light = linear[picture] @ _LUMINANCE
    rows, columns = (np.arange(_CELLS) * side // _CELLS for side in light.shape)
    sums = np.add.reduceat(np.add.reduceat(light, rows, axis=0), columns, axis=1)
    counts = np.add.reduceat(np.add.reduceat(np.ones_like(light), rows, axis=0), columns, axis=1)
    return np.asarray((sums / counts).reshape(-1))


def first_flash(cells: Iterable[Floats], rate: float) -> int | None:
    """The index of the first picture of a second with more than three flashes in a cell; None if there is none.

    cells: of each picture, `rate` a second, what `luminances` gives.
    """
    table = np.array(list(cells))
    second = max(1, round(rate))
    begins = [start for cell in table.T if (start := _first_of(_changes(cell), second)) is not None]
    return min(begins, default=None)


def _first_of(places: list[int], second: int) -> int | None:
    """The first place from which on more than _CHANGES lie within a second."""
    for start, end in zip(places, places[_CHANGES:], strict=False):
        if end - start < second:
            return start
    return None


def _changes(light: Floats) -> list[int]:
    """Pictures at which the luminance (n,) has changed by a step against the way it changed before."""
    places: list[int] = []
    extreme, way = float(light[0]), 0
    for place, value in enumerate(light.tolist()):
        if way * (value - extreme) > 0.0:
            extreme = value  # on in the same way
        elif abs(value - extreme) >= _STEP and min(value, extreme) < _DARK:
            places.append(place)
            extreme, way = value, 1 if value > extreme else -1
    return places
