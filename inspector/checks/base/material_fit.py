"""How a texture lies on the surface of each material of one frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from inspector import limits
from inspector.formats.frame import Frame
from inspector.names import Name
from inspector.sequence.texture_fit import measure_region
from inspector.surface.islands import face_materials
from inspector.surface.metric import measure_frame
from inspector.surface.reading import Reading, Upright, directions, summarise
from inspector.surface.triangles import triangulate


@dataclass(frozen=True, slots=True)
class MaterialFit:
    """aspects: width over height that the texture must have, at texture_fit.SHARES of the surface. reading: how
    lettering lies on it."""

    aspects: tuple[float, float, float]
    reading: Reading

    @property
    def is_even(self) -> bool:
        """Whether the surface wants about the same aspect everywhere, so that one picture can be laid on it."""
        low, _, high = self.aspects
        return 0.0 < high < limits.ASPECT_SPREAD * low


@np.errstate(over="ignore", invalid="ignore")  # numbers out of all bounds: such triangles weigh nothing
def material_fits(frame: Frame) -> dict[Name | None, MaterialFit]:
    """Of each material with an area on the surface and in the texture."""
    triangles = triangulate(frame.corners, frame.positions)
    metric = measure_frame(frame, triangles)
    lines = directions(metric, Upright())
    names, of_face = face_materials(frame)
    of_triangle = of_face[triangles.face]
    fits = {}
    for at, name in enumerate(names):
        row: dict[str, Any] = measure_region(metric, lines, np.flatnonzero(of_triangle == at))
        if row["area"]:
            low, middle, high = np.asarray(row["aspects"], float).tolist()
            means = (complex(row["upright"]), complex(row["flat"]), float(row["tilt"]), float(row["mirrored"]))
            fits[name] = MaterialFit((low, middle, high), summarise(*means))
    return fits
