"""Find the parts of the texture on which lettering keeps its shape in every frame."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inspector.arrays import Floats
from inspector.formats.frame import Frame
from inspector.lettering.texture_fit import RegionFit, TextureFit
from inspector.sequence.run.replay import Progress, alike, quiet, replay
from inspector.sequence.run.scan import Cancel, never
from inspector.sequence.series import Series
from inspector.surface.lettering_box import Rectangle, safe_rectangle
from inspector.surface.metric import Metric, measure_frame
from inspector.surface.triangles import Triangles, Triangulator

LETTER_STRETCH = 1.25
"""Maximum factor by which a letter may grow or shrink, in any direction, within the lettering box. A difference of a
quarter between letters is visible, but doesn't look like a different typeface (common practice, no source).
"""

_SAFE_CELLS = 256
"""Number of cells along each side of a UV island's bounding box in the search for the lettering box. The
lettering box is accurate to 1/256 of the island's size.
"""


@dataclass(frozen=True, slots=True)
class SafeArea:
    """The part of a UV island in which letters keep their shape.

    Attributes:
        region: The island.
        rectangle: The largest safe rectangle, in UV; None if no part of the island is safe.
        bound: Maximum factor by which letters may grow or shrink, in any direction and frame, relative to the island's
            typical length.
        cells: Number of cells along each side of the island's bounding box in the search. The rectangle never extends
            beyond the safe area, but may be one cell too short at each end.
    """

    region: RegionFit
    rectangle: Rectangle | None
    bound: float
    cells: int

    @property
    def size(self) -> float:
        """Approximate area of the rectangle on the surface, in square scene units; 0 if there is no rectangle."""
        if self.rectangle is None:
            return 0.0
        return self.rectangle.width * self.rectangle.height * self.region.typical_length**2


def safe_areas(
    series: Series,
    fit: TextureFit,
    bound: float = LETTER_STRETCH,
    cells: int = _SAFE_CELLS,
    progress: Progress = quiet,
    cancelled: Cancel = never,
) -> tuple[SafeArea, ...]:
    """Find the largest safe rectangle of each UV island in `fit.regions`. The frames are read again.

    Args:
        series: The sequence.
        fit: The texture fit of the sequence.
        bound: Maximum factor by which letters may grow or shrink.
        cells: Number of cells along each side of an island's bounding box.
        progress: Called after each frame.
        cancelled: Returns whether to stop.

    Returns:
        One area per island, in descending order of `SafeArea.size`.

    Raises:
        Cancelled: The work was stopped.
    """
    triangulator = Triangulator()
    reference = next(iter(replay(series, [series.reference_index or 0])))
    triangles = triangulator.of(reference)
    inside = [np.flatnonzero(fit.islands.of_face[triangles.face] == region.island) for region in fit.regions]
    worst = [np.ones(len(chosen)) for chosen in inside]
    for frame in replay(series, alike(series), progress, cancelled):
        metric = measure_frame(frame, triangulator.of(frame))
        for region, chosen, so_far in zip(fit.regions, inside, worst, strict=True):
            np.maximum(so_far, letter_stretch(metric.of(chosen), region), out=so_far)
    areas = [
        SafeArea(region, _rectangle(reference, triangles, fit, region, so_far <= bound, cells), bound, cells)
        for region, so_far in zip(fit.regions, worst, strict=True)
    ]
    return tuple(sorted(areas, key=lambda area: -area.size))


def letter_stretch(metric: Metric, region: RegionFit) -> Floats:
    """Calculate the factor by which a letter grows or shrinks in the direction of the largest change.

    The texture has the region's `wanted_aspect`, and the factor is relative to the region's `typical_length` (see
    surface/metric.py).

    Args:
        metric: The triangles, in one frame.
        region: The region that contains the triangles.

    Returns:
        The factor for each triangle, (t,), at least 1; infinite for a triangle that has an area only on the surface or
        only in the texture, or on which letters are mirrored because the texture is folded.
    """
    larger, smaller = metric.singular_values(region.wanted_aspect)
    typical = region.typical_length / np.sqrt(region.wanted_aspect)
    whole = metric.usable & (smaller > 0.0)
    stretch = np.full(len(larger), np.inf)
    stretch[whole] = np.maximum(larger[whole] / typical, typical / smaller[whole])
    stretch[(metric.area == 0.0) & (metric.uv_area == 0.0)] = 1.0  # a triangle with a repeated corner takes no space
    folded = (metric.uv_area < 0.0) != region.reading.reads_mirrored
    return np.where(folded & (metric.uv_area != 0.0), np.inf, stretch)


def _rectangle(
    frame: Frame, triangles: Triangles, fit: TextureFit, region: RegionFit, good: npt.NDArray[np.bool_], cells: int
) -> Rectangle | None:
    chosen = fit.islands.of_face[triangles.face] == region.island
    uvs = frame.uvs[:, :2]
    outline = uvs[fit.islands.outline[fit.islands.outline_island == region.island]]
    return safe_rectangle(uvs[frame.corners.vt[triangles.corners[chosen]]], good, outline, cells)
