"""What the viewer and the UV map can draw."""

from __future__ import annotations

import enum


class Look(enum.Enum):
    """How the viewer draws a surface. The value is what the screen calls it."""

    SHADED = "shaded"
    WIRES = "wireframe"
    POINTS = "points"
    TEXTURED = "textured"
    GRID = "UV checker"

    @property
    def fine(self) -> bool:
        """Whether it is lines or dots, which want the finest cells rather than the most shades."""
        return self in (Look.WIRES, Look.POINTS)


class Compared(enum.Enum):
    """What is compared with another frame. The value is what the screen calls it."""

    DISTANCE = "distances"
    TEXTURED = "textured"
    SHADED = "shaded"
    UVS = "UV maps"


class Under(enum.Enum):
    """What lies under the UV map. The value is what the screen calls it."""

    NOTHING = ""
    TEXTURE = "over its texture"
    GRID = "over a UV checker"
