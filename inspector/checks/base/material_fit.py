"""Measure how a texture fits the surface of each material in a frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.formats.frame import Frame
from inspector.lettering.texture_fit import measure_region
from inspector.names import Name
from inspector.surface.islands import face_materials
from inspector.surface.metric import measure_frame
from inspector.surface.shapes import face_areas
from inspector.surface.text_direction import Reading, Upright, directions, summarise
from inspector.surface.triangles import triangulate
from inspector.threshold import Threshold

FIT_SAMPLES = 4096
"""Maximum number of faces of a material that are measured to judge how a texture fits. If there are more faces, a
sample of this size is measured. This takes a few milliseconds, and shares of the surface are accurate to about 0.01.
"""

ASPECT_SPREAD = Threshold(
    "aspect-spread",
    3.0,
    "Different parts of a surface may require different aspect ratios of the texture. If the 95th percentile of these "
    "ratios is at least this many times the 5th percentile, no single aspect ratio fits, because the UV layout is "
    "stretched too unevenly (common practice, no source).",
)


@dataclass(frozen=True, slots=True)
class MaterialFit:
    """The fit of a texture on the surface of a material.

    Attributes:
        aspects: Aspects (width / height) that the surface requires of the texture, at the percentiles in
            texture_fit.SHARES.
        reading: Orientation that lettering would have on the surface.
    """

    aspects: tuple[float, float, float]
    reading: Reading

    @property
    def is_even(self) -> bool:
        """Whether one aspect ratio approximately fits the whole surface."""
        low, _, high = self.aspects
        return 0.0 < high < ASPECT_SPREAD.value * low


@np.errstate(over="ignore", invalid="ignore", divide="ignore")  # faces with numbers out of range have no weight
def material_fits(frame: Frame) -> dict[Name | None, MaterialFit]:
    """Measure how a texture fits each material that has a non-zero area both on the surface and in the texture.

    The key None is for faces without a material.
    """
    names, material = face_materials(frame)
    area = face_areas(frame)
    area[~np.isfinite(area)] = 0.0
    sample = [_sample(np.flatnonzero(material == at), area) for at in range(len(names))]
    faces, times = (np.concatenate(parts) for parts in zip(*sample, strict=True))
    chosen = frame.replace(corners=frame.corners.picked(faces))
    triangles = triangulate(chosen.corners, chosen.positions)
    metric = measure_frame(chosen, triangles)
    lines = directions(metric, Upright())
    weights = np.nan_to_num(metric.area / area[faces[triangles.face]] * times[triangles.face])
    fits = {}
    for at, name in enumerate(names):
        of_material = np.flatnonzero(material[faces[triangles.face]] == at)
        row: dict[str, Any] = measure_region(metric, lines, of_material, weights)
        if row["area"]:
            low, middle, high = np.asarray(row["aspects"], float).tolist()
            means = (complex(row["upright"]), complex(row["flat"]), float(row["tilt"]), float(row["mirrored"]))
            fits[name] = MaterialFit((low, middle, high), summarise(*means))
    return fits


def _sample(faces: Indices, area: Floats) -> tuple[Indices, Floats]:
    """Choose the faces of a material to measure: all faces, or a sample if there are more than FIT_SAMPLES.

    The sampling is systematic, with probability proportional to area (W. G. Cochran, "Sampling Techniques", chapter
    9A).

    Returns:
        Indices of the chosen faces, (k,), and the weight of each face, (k,): its area or, in a sample, the number of
        times that it was drawn.
    """
    ends = np.cumsum(area[faces])
    if len(faces) <= FIT_SAMPLES or not 0.0 < ends[-1] < np.inf:
        return faces, area[faces]
    places = (np.arange(FIT_SAMPLES) + 0.5) / FIT_SAMPLES * ends[-1]
    drawn, times = np.unique(np.searchsorted(ends, places, side="right"), return_counts=True)
    return faces[drawn], times.astype(np.float64)
