"""Compare the position and the size of a frame before and after a fix that scales it or moves it far away."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from inspector.arrays import Floats
from inspector.names import amount

_LARGEST = 1e100  # maximum coordinate; its square still fits in a float64
_FARTHEST = 4.0
"""One camera can show a frame before and after a fix if the diagonal of the box around both bounding boxes is at most
this multiple of the smaller bounding box's diagonal."""

_SAME_SIZE = 1.1
"""A frame counts as not scaled by a fix if its sizes before and after the fix differ by less than this factor."""


@dataclass(frozen=True, eq=False)
class Placement:
    """The bounding boxes of a frame before and after a fix.

    Attributes:
        before: Minimum and maximum before the fix, (2, 3), in scene units.
        after: Minimum and maximum after the fix, (2, 3), in scene units.
    """

    before: Floats
    after: Floats

    @property
    def factor(self) -> float:
        """Size after the fix divided by the size before the fix."""
        return _diagonal(self.after) / _diagonal(self.before)

    @property
    def _is_scaled(self) -> bool:
        return not 1.0 / _SAME_SIZE < self.factor < _SAME_SIZE

    @property
    def what(self) -> str:
        """The property that the fix changes: `scale` or `position`."""
        return "scale" if self._is_scaled else "position"

    def put_back(self, positions: Floats) -> Floats:
        """Move and scale the positions that result from the fix, (n, 3), in scene units, so that the frame has the
        position and size that it had before the fix."""
        return np.asarray((positions - self.after.mean(axis=0)) / self.factor + self.before.mean(axis=0))

    @property
    def words_before(self) -> str:
        """The changed property and its value before the fix, as in `longest side 181 units`."""
        return f"{self._name} {self._value(self.before)}"

    @property
    def words_after(self) -> str:
        """The changed property and its value after the fix, as in `longest side 1.81 units`."""
        return f"{self._name} {self._value(self.after)}"

    @property
    def words(self) -> str:
        """The changed property and both values, as in `longest side 1.81 units (before: 181 units)`."""
        return f"{self.words_after} (before: {self._value(self.before)})"

    @property
    def _name(self) -> str:
        return "longest side" if self._is_scaled else "centre"

    def _value(self, box: Floats) -> str:
        if self._is_scaled:
            return amount(float((box[1] - box[0]).max()), "unit")
        return " ".join(f"{value:.4g}" for value in box.mean(axis=0))


def placement_of(before: Floats | None, after: Floats | None) -> Placement | None:
    """Compare the bounding boxes of a frame before and after a fix, (2, 3) each, in scene units.

    Args:
        before: The box before the fix; None if there is no box.
        after: The box after the fix; None if there is no box.

    Returns:
        Both boxes as a `Placement`. None if one camera can show both boxes, or if a box is missing, has no extent, or
        is too large for distances to be computed.
    """
    if before is None or after is None:
        return None
    both = np.stack([np.minimum(before[0], after[0]), np.maximum(before[1], after[1])])
    if np.abs(both).max() > _LARGEST:
        return None
    smaller = min(_diagonal(before), _diagonal(after))
    return Placement(before, after) if 0.0 < _FARTHEST * smaller < _diagonal(both) else None


def _diagonal(box: Floats) -> float:
    return float(np.linalg.norm(box[1] - box[0]))
