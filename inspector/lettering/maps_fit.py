"""The maps that materials have already, against the texture that the surface wants. Only their headers are read."""

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
"""Ratio of a map's aspect to the required one from which the map is called squeezed: from about a tenth on, a circle is
seen not to be round (common practice, no source)."""

_MAP_TOO_SMALL = 1.5
"""Factor by which a picture may enlarge a map's pixels before they show as blur (common practice, no source)."""

_MAP_TOO_BIG = 4.0
"""Factor along a line by which a map may be finer than needed: two halvings too many, sixteen times the memory."""


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


def judge_maps(materials: FrameMaterials, fit: TextureFit, density: float, scope: Scope) -> tuple[MapFit, ...]:
    """Each map found of each material that was measured. density: wanted, pixels to a scene unit.

    Of a map that wasn't found nothing is said here; the checks of references name it.
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
    """Width and height from the file's header, or in plain words why they can't be told. No pixel is decoded.

    scope: the folders that may be read.
    """
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings(), scope.open(path) as stream:
            # pillow warns of, then refuses pictures that would fill the memory when decoded; nothing is decoded here
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(stream, formats=FORMATS) as picture:
                return picture.size
    except Image.DecompressionBombError:
        return "larger than any picture that is safe to open"
    except UnidentifiedImageError:
        return "a format whose size can't be told"
    except OSError as error:
        return error.strerror or "damaged"
    except (ValueError, SyntaxError, ArithmeticError, LookupError, TypeError):
        return "damaged"  # what readers of broken headers raise


def _judged(
    use: MapUse, size: tuple[int, int], region: RegionFit, density: float, others: list[tuple[int, int]]
) -> MapFit:
    width, height = size
    squeeze = width / height / region.wanted_aspect
    middle = region.density(width, height)[:, 1]
    verdicts = list(filter(None, [_shape(squeeze), _fineness(np.nanmin(middle) / density, region, density)]))
    if others:
        sizes = ", ".join(f"{wide} x {high}" for wide, high in others)
        verdicts.append(f"other maps of this material have another size: {sizes}")
    return MapFit(use, size, None, squeeze, float(np.nanmin(middle)), tuple(verdicts))


def _shape(squeeze: float) -> str | None:
    if squeeze > MAP_SQUEEZE:
        return f"squeezed in width by {squeeze:.2f}"
    if 1.0 / squeeze > MAP_SQUEEZE:
        return f"squeezed in height by {1.0 / squeeze:.2f}"
    return None


def _fineness(share: float, region: RegionFit, density: float) -> str | None:
    """share: pixels that half of the surface has at most over those needed, along a line."""
    wide, high = region.pixels(density)
    if share < 1.0 / _MAP_TOO_SMALL:
        return f"too small: wants {wide} x {high}"
    if share > _MAP_TOO_BIG:
        return f"far too big: {wide} x {high} would do"
    return None
