"""The maps that materials have already, against the texture that the surface wants. Only their headers are read."""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path

from inspector import limits
from inspector.names import Name
from inspector.sequence.materials import FrameMaterials, MapUse
from inspector.sequence.texture_fit import RegionFit, TextureFit

_FORMATS = ("PNG", "JPEG", "TIFF", "TGA", "BMP", "WEBP", "JPEG2000", "PPM", "GIF")
"""Of the picture formats that pillow reads, those that are used for maps and whose headers need no other program."""


@dataclass(frozen=True, slots=True)
class MapFit:
    """A map and what is wrong with its size. size: width and height, None where it can't be told (`unknown` says why).

    squeeze: its aspect over the wanted one; above 1 the picture is squeezed in width on the surface. density: pixels
    to a scene unit in the middle of the surface, in the frame in which it is largest. verdicts: in plain words.
    """

    map: MapUse
    size: tuple[int, int] | None
    unknown: str | None = None
    squeeze: float | None = None
    density: float | None = None
    verdicts: tuple[str, ...] = ()


def judge_maps(materials: FrameMaterials, fit: TextureFit, density: float) -> tuple[MapFit, ...]:
    """Each map of each material that was measured. density: wanted, pixels to a scene unit.

    Of a map that wasn't found nothing is said here; the checks of references name it.
    """
    sizes: dict[Path, tuple[int, int] | str] = {}
    found = [use for use in materials.maps if use.target.path is not None]
    for use in found:
        assert use.target.path is not None
        if use.target.path not in sizes:
            sizes[use.target.path] = picture_size(use.target.path)
    regions = {region.material: region for region in fit.materials}
    judged = []
    for use in found:
        assert use.target.path is not None
        size, region = sizes[use.target.path], regions.get(use.map.material)
        if isinstance(size, str):
            judged.append(MapFit(use, None, size))
        elif region is not None:
            others = {
                other
                for one in found
                if one.map.material == use.map.material and one.target.path is not None
                and not isinstance(other := sizes[one.target.path], str)
            }
            judged.append(_judged(use, size, region, density, others - {size}))
    return tuple(judged)
