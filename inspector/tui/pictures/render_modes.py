"""What the viewer and the UV map can draw. The values are what the screens call it."""

from __future__ import annotations

import enum


class Look(enum.Enum):
    """How the viewer draws a surface."""

    SHADED = "shaded"
    WIRES = "wireframe"
    POINTS = "points"
    TEXTURED = "textured"
    GRID = "UV checker"

    @property
    def fine(self) -> bool:
        """Whether it consists of lines or dots, which need the finest cells rather than the most shades."""
        return self in (Look.WIRES, Look.POINTS)


class Compared(enum.Enum):
    """What is compared with another frame."""

    DISTANCE = "distances"
    TEXTURED = "textured"
    SHADED = "shaded"
    UVS = "UV maps"


class Under(enum.Enum):
    """What is drawn under the UV map."""

    NOTHING = ""
    TEXTURE = "over its texture"
    GRID = "over a UV checker"
