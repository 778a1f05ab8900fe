"""Draw caption versions on their textures, and judge whether the captions can be read."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

import numpy as np

from inspector.errors import MeshqcError, Refusal
from inspector.lettering.caption_file import Version
from inspector.lettering.caption_font import caption_font
from inspector.lettering.caption_layout import lay_out
from inspector.lettering.caption_reading import CaptionReading, LetteredVersion, read_captions_in
from inspector.lettering.caption_render import Pixels, render
from inspector.lettering.sequence_fit import SequenceFit, Stage, display, faces_of, placed, silent
from inspector.names import Name, counted
from inspector.picture.image_files import IMAGE_PIXELS, read_layer
from inspector.sequence.discovery.scope import Scope
from inspector.sequence.materials.resolver import FrameMaterials
from inspector.sequence.run.scan import Cancel, never
from inspector.surface.lettering_box import Rectangle


@dataclass(frozen=True, eq=False)
class BaseMap:
    """The texture under the lettering.

    Attributes:
        pixels: The pixels; None if there is no base map. The background of the letters is then transparent.
        name: Path of the file, relative to the inspected folder or a --textures folder; None if there is no base map.
        path: Path of the file; None if there is no base map.
        size: Width and height, in pixels. The lettering box and the height of capitals are stated in the same pixels.
        profile: ICC profile that the rendered texture keeps; empty if there is none.
        lost: Descriptions of the properties that the rendered texture doesn't keep.
    """

    pixels: Pixels | None
    name: Name | None
    path: Path | None
    size: tuple[int, int]
    profile: bytes = b""
    lost: tuple[str, ...] = ()


@dataclass(frozen=True, eq=False)
class CaptionCase:
    """A caption version, and the result of drawing and judging it on a sequence.

    Attributes:
        version: The version as stated.
        fit: The fit of the sequence, with the box and the picture of this version; None if the version was refused
            because of its box or the size of its texture.
        base: The base map; None if the version was refused because of the size of its texture, or because of a stated
            box or island.
        size: Width and height of the rendered texture, in pixels; None if `fit` is None.
        refusal: The reason why the version doesn't fit; None if it fits.
        lettered: The drawn version; None if the version doesn't fit.
        reading: The visibility of the letters; None if the version doesn't fit or has not been judged.
    """

    version: Version
    fit: SequenceFit | None = None
    base: BaseMap | None = None
    size: tuple[int, int] | None = None
    refusal: str | None = None
    lettered: LetteredVersion | None = None
    reading: CaptionReading | None = None

    @property
    def box(self) -> tuple[int, int, int, int] | None:
        """Left, top, right and bottom of the lettering box, in pixels from the top left corner of the base map; None if
        `fit` is None.
        """
        if self.fit is None or self.fit.rectangle is None or self.base is None:
            return None
        return pixel_box(self.fit.rectangle, self.base.size)

    @property
    def unreadable(self) -> bool:
        """Whether the version has not been judged, or can't be read in a frame in which it has to be readable."""
        return self.reading is None or bool(self.reading.unreadable)


def pixel_box(rectangle: Rectangle, size: tuple[int, int]) -> tuple[int, int, int, int]:
    """Convert a box in UV to whole pixels of a map.

    Args:
        rectangle: The box, in UV. It is moved by whole units so that its lower left corner is in the unit square.
        size: Width and height of the map, in pixels.

    Returns:
        Left, top, right and bottom, in pixels from the top left corner of the map.
    """
    width, height = size
    left, bottom = np.floor(rectangle.left + 1e-9), np.floor(rectangle.bottom + 1e-9)
    across = ((rectangle.left - left) * width, (rectangle.right - left) * width)
    down = ((1.0 - rectangle.top + bottom) * height, (1.0 - rectangle.bottom + bottom) * height)
    return round(float(across[0])), round(float(down[0])), round(float(across[1])), round(float(down[1]))


def caption_cases(
    fit: SequenceFit,
    versions: Sequence[Version],
    materials: FrameMaterials,
    scope: Scope,
    stage: Stage = silent,
) -> tuple[CaptionCase, ...]:
    """Draw every version, and judge the versions that fit.

    Args:
        fit: The measured sequence, whose lettering box is replaced by that of each version.
        versions: The versions as stated.
        materials: Materials of the reference frame, for the colour maps.
        scope: The folders that may be read.
        stage: Called with the progress.

    Raises:
        MeshqcError: A font or a base map can't be used, a material or a UV island doesn't exist, or there is no surface
            under a box.
    """
    cases = []
    for number, version in enumerate(versions):
        stage("drawing captions", number, len(versions))
        cases.append(drawn_case(fit, version, materials, scope))
    return read_cases(fit, cases, stage)


def read_cases(
    fit: SequenceFit, cases: Sequence[CaptionCase], stage: Stage = silent, cancelled: Cancel = never
) -> tuple[CaptionCase, ...]:
    """Judge whether each version that fits is readable. For this purpose, all frames that have the same faces and UV
    indices as the reference frame are read again.

    Args:
        fit: The measured sequence.
        cases: The cases, from `drawn_case`.
        stage: Called with the progress.
        cancelled: Returns whether to stop.

    Returns:
        The same cases, with a reading for each version that fits.

    Raises:
        Cancelled: The work was stopped.
    """
    drawn = [case.lettered for case in cases if case.lettered is not None]
    readings = iter(read_captions_in(fit.series, drawn, partial(stage, "checking captions"), cancelled))
    return tuple(case if case.lettered is None else replace(case, reading=next(readings)) for case in cases)


def drawn_case(fit: SequenceFit, version: Version, materials: FrameMaterials, scope: Scope) -> CaptionCase:
    """Draw a version on its texture, without judging it.

    Args:
        fit: The measured sequence, whose lettering box is replaced by that of the version.
        version: The version as stated.
        materials: Materials of the reference frame, for the colour maps.
        scope: The folders that may be read.

    Raises:
        MeshqcError: The font or the base map can't be used, the material or the UV island doesn't exist, or there is no
            surface under the box.
    """
    try:
        base = _base(fit, version, materials, scope)
        own = _placed(fit, version, base)
        if own.rectangle is None or own.region is None:
            return CaptionCase(version, None, base, refusal="no lettering box on this material is safe in all frames")
        size = _size(own, base)
        case = CaptionCase(version, own, base, size)
        font = caption_font(version.font, version.weight, scope)
    except MeshqcError as error:
        if isinstance(error, Refusal):
            return CaptionCase(version, refusal=str(error))
        raise MeshqcError(f"version {version.name}: {error}") from error
    try:
        aspect = own.region.wanted_aspect
        layout = lay_out(version, font, own.rectangle, own.region.reading, aspect, base.size)
    except Refusal as refusal:
        return replace(case, refusal=str(refusal))
    rendered = render(version, font, layout, _ground(base, size))
    faces = faces_of(own.texture, own.region)
    return replace(case, lettered=LetteredVersion(version, font, layout, rendered, own.shot, faces))


def _base(fit: SequenceFit, version: Version, materials: FrameMaterials, scope: Scope) -> BaseMap:
    """Read a version's base map: the stated file or, if none is stated, the material's colour map.

    If there is neither, `pixels` of the result is None, and `size` is the size that the material needs.

    Raises:
        MeshqcError: The file can't be read.
    """
    material = version.material or display(fit.material.material)
    path = version.base
    if path is None:
        maps = [
            use
            for use in materials.maps
            if display(use.map.material) == material and use.map.statement.raw.lower() == b"map_kd" and use.target.path
        ]
        path = maps[0].target.path if maps else None
    if path is None:
        region = next((one for one in fit.texture.materials if display(one.material) == material), fit.material)
        return BaseMap(None, None, None, region.pixels(fit.density))
    layer = read_layer(path, scope.open)
    lost = [f"the base map has {layer.bits} bits per channel, but the rendered texture has 8"] if layer.bits > 8 else []
    if layer.other_profile:
        lost.append(
            f"the base map's ICC profile is for {layer.other_profile}, so the rendered texture is RGB without a profile"
        )
    height, width = layer.pixels.shape[:2]
    return BaseMap(layer.pixels, scope.relative(path), path, (width, height), layer.profile, tuple(lost))


def _placed(fit: SequenceFit, version: Version, base: BaseMap) -> SequenceFit:
    """Move the lettering of a fit to the box of a version.

    Raises:
        Refusal: The box extends beyond the base map, or no part of the stated island is safe for lettering.
        MeshqcError: The island or the material doesn't exist, or there is no surface under the box.
    """
    if version.box == "automatic":
        return placed(fit, version.material or fit.wanted.material, fit.wanted.rectangle)
    if isinstance(version.box, int):
        areas = [area for area in fit.areas if area.region.island == version.box]
        if not areas:
            safe = sorted(area.region.island or 0 for area in fit.areas if area.rectangle is not None)
            others = f"islands with space: {', '.join(map(str, safe))}" if safe else "no island has space"
            raise MeshqcError(f"there is no island {version.box} with space for lettering; {others}")
        if areas[0].rectangle is None:
            raise Refusal(f"no part of island {version.box} is safe for lettering")
        return placed(fit, display(areas[0].region.material), areas[0].rectangle)
    assert isinstance(version.box, tuple)
    left, top, right, bottom = version.box
    width, height = base.size
    over = max(right - width, bottom - height)
    if over > 0:
        reach = counted(over, "pixel")
        raise Refusal(f"the box extends {reach} beyond the base map, which is {width} x {height} pixels")
    rectangle = Rectangle(left / width, 1.0 - bottom / height, right / width, 1.0 - top / height)
    return placed(fit, version.material or fit.wanted.material, rectangle)


def _size(fit: SequenceFit, base: BaseMap) -> tuple[int, int]:
    """Return the width and height of the texture, in pixels: those of the base map or, if `fit` needs more pixels,
    larger values in the same proportion.

    Raises:
        Refusal: The texture would have too many pixels.
    """
    wanted = fit.material.pixels(fit.density)
    width, height = base.size
    factor = max(1.0, float(np.sqrt(wanted[0] * wanted[1] / (width * height))))
    size = round(width * factor), round(height * factor)
    if size[0] * size[1] > IMAGE_PIXELS.value:
        raise Refusal(
            f"the texture would have {size[0]:,} x {size[1]:,} pixels, which is too many to draw; use a lower "
            "--density or --fill-width"
        )
    return size


def _ground(base: BaseMap, size: tuple[int, int]) -> Pixels:
    """Return the pixels of the base map at the size of the texture; transparent pixels if there is no base map."""
    if base.pixels is None:
        return np.zeros((size[1], size[0], 4), np.uint8)
    if base.size == size:
        return base.pixels
    from PIL import Image

    # The weights of this filter are never negative, so edges get no halo. Colours are weighted by their opacity.
    layer = Image.fromarray(base.pixels).convert("RGBa").resize(size, Image.Resampling.HAMMING)
    return np.asarray(layer.convert("RGBA"))
