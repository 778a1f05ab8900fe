"""How the viewer can draw a surface."""

from __future__ import annotations

import enum


class Look(enum.Enum):
    """The value is what the screen calls it."""

    SHADED = "shaded"
    WIRES = "wires"
    POINTS = "points"
    TEXTURED = "textured"
    GRID = "our grid"

    @property
    def fine(self) -> bool:
        """Whether it is lines or dots, which want the finest cells rather than the most shades."""
        return self in (Look.WIRES, Look.POINTS)
