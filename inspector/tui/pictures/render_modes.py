"""The kinds of pictures in the viewer, in the comparison and on the UV screen. The values are their names on the
screens."""

from __future__ import annotations

import enum

from inspector.checks.base.finding import Finding
from inspector.checks.base.registry import check_by_id, group_of


class Look(enum.Enum):
    """The render modes of the viewer."""

    SHADED = "shaded"
    WIRES = "wireframe"
    POINTS = "points"
    TEXTURED = "textured"
    GRID = "UV checker"

    @property
    def fine(self) -> bool:
        """Whether the picture consists of lines or dots, which need the finest cells rather than the most shades."""
        return self in (Look.WIRES, Look.POINTS)

    @staticmethod
    def suited(finding: Finding | None) -> Look:
        """Return the render mode that shows a finding best: textured for findings about UVs and materials, otherwise
        shaded."""
        about = "" if finding is None else group_of(check_by_id(finding.check))
        return Look.TEXTURED if about in _ON_TEXTURES else Look.SHADED


_ON_TEXTURES = ("uvs", "materials")
"""Groups of checks whose problems are visible only if textures are drawn: the texture may be misplaced on the surface
(UVs) or missing (materials)."""


class ComparisonMode(enum.Enum):
    """The render modes of a comparison with another frame."""

    DISTANCE = "distances"
    TEXTURED = "textured"
    SHADED = "shaded"
    UVS = "UV maps"


class Under(enum.Enum):
    """The kinds of pictures under the UV map."""

    NOTHING = ""
    TEXTURE = "over its texture"
    GRID = "over a UV checker"
