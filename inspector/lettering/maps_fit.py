"""Compare the texture maps of materials with the texture that the surface needs. Only the headers of the files are
read.
"""

from __future__ import annotations

import warnings
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from inspector.lettering.texture_fit import RegionFit, TextureFit
from inspector.picture.image_files import FORMATS
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import FrameMaterials, MapUse

MAP_SQUEEZE = 1.1
"""A map counts as squeezed if its aspect ratio divided by the required aspect ratio, or the inverse, is above this
value. A circle squeezed by a tenth is visibly not round (common practice, no source).
"""

_MAP_TOO_SMALL = 1.5
"""Maximum factor by which a picture can enlarge a map's pixels without making them look blurred (common practice, no
source).
"""

_MAP_TOO_BIG = 4.0
"""A map counts as far too large if it has more than this multiple of the required pixels per scene unit, and therefore
takes more than sixteen times the memory (common practice, no source).
"""


@dataclass(frozen=True, slots=True)
class MapFit:
    """A texture map and the problems with its size.

    Attributes:
        map: The map.
        size: Width and height, in pixels; None if they can't be read.
        unknown: The reason why the size can't be read; None if it was read.
        squeeze: The map's aspect ratio divided by the required aspect ratio; None if the size can't be read. If the
            value is above 1, the texture appears horizontally squeezed on the surface.
        density: Pixels per scene unit: the median over the surface, in the frame with the smallest median. None if the
            size can't be read.
        verdicts: Descriptions of the problems.
    """

    map: MapUse
    size: tuple[int, int] | None
    unknown: str | None = None
    squeeze: float | None = None
    density: float | None = None
    verdicts: tuple[str, ...] = ()


def judge_maps(materials: FrameMaterials, fit: TextureFit, density: float, scope: Scope) -> tuple[MapFit, ...]:
    """Judge the maps of each measured material. Maps whose files were not found are left out, because the checks report
    them.

    Args:
        materials: The materials and their maps.
        fit: The texture that the surface needs.
        density: The required pixels per scene unit.
        scope: The folders that may be read.
    """
    found = [(use, use.target.path) for use in materials.maps if use.target.path is not None]
    sizes = {path: picture_size(path, scope) for path in dict.fromkeys(path for _, path in found)}
    regions = {region.material: region for region in fit.materials}
    judged = []
    for use, path in found:
        size, region = sizes[path], regions.get(use.map.material)
        if isinstance(size, str):
            judged.append(MapFit(use, None, size))
        elif region is not None:
            siblings = {sizes[other] for one, other in found if one.map.material == use.map.material}
            others = sorted(one for one in siblings - {size} if not isinstance(one, str))
            judged.append(_judged(use, size, region, density, others))
    return tuple(judged)


def picture_size(path: Path, scope: Scope) -> tuple[int, int] | str:
    """Read the size of a texture from the header of its file; no pixel is decoded.

    Args:
        path: The file.
        scope: The folders that may be read.

    Returns:
        Width and height in pixels, or the reason why they can't be read.
    """
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings(), scope.open(path) as stream:
            # Pillow warns about textures that would fill the memory if they were decoded. Nothing is decoded here.
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(stream, formats=FORMATS) as picture:
                return picture.size
    except Image.DecompressionBombError:
        return "the texture is too large to open safely"
    except UnidentifiedImageError:
        return "the size of a texture in this format can't be read"
    except OSError as error:
        return error.strerror or "the file is damaged"
    except (ValueError, SyntaxError, ArithmeticError, LookupError, TypeError):
        return "the file is damaged"  # raised by readers of damaged headers


def _judged(
    use: MapUse, size: tuple[int, int], region: RegionFit, density: float, others: list[tuple[int, int]]
) -> MapFit:
    width, height = size
    squeeze = width / height / region.wanted_aspect
    middle = region.density(width, height)[:, 1]
    verdicts = list(filter(None, [_shape(squeeze), _fineness(np.nanmin(middle) / density, region, density)]))
    if others:
        sizes = ", ".join(f"{wide} x {high}" for wide, high in others)
        verdicts.append(f"differs in size from other maps of this material ({sizes} pixels)")
    return MapFit(use, size, None, squeeze, float(np.nanmin(middle)), tuple(verdicts))


def _shape(squeeze: float) -> str | None:
    if squeeze > MAP_SQUEEZE:
        return f"squeezed in width by a factor of {squeeze:.2f}"
    if 1.0 / squeeze > MAP_SQUEEZE:
        return f"squeezed in height by a factor of {1.0 / squeeze:.2f}"
    return None


def _fineness(share: float, region: RegionFit, density: float) -> str | None:
    """Describe the problem of a map that has too few or far too many pixels; None if there is no problem.

    Args:
        share: Ratio of the map's pixels per scene unit (the median over the surface, in the frame with the smallest
            median) to the number needed.
        region: The material.
        density: The required pixels per scene unit.
    """
    wide, high = region.pixels(density)
    if share < 1.0 / _MAP_TOO_SMALL:
        return f"too small (needs {wide} x {high} pixels)"
    if share > _MAP_TOO_BIG:
        return f"far too large ({wide} x {high} pixels are enough)"
    return None
