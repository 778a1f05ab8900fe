"""Convert the maps of materials to the image formats and channels that glTF supports.

Source: Khronos, glTF 2.0 specification: 3.8.2 (PNG and JPEG), 3.9.2 (roughness in green, metallic in blue, opacity in
the colour's alpha).
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np
import numpy.typing as npt

from inspector.errors import MeshqcError
from inspector.formats.mesh import Image, LeftOut, Map, Material, Slot
from inspector.names import Name
from inspector.picture.image_files import read_layer
from inspector.picture.png import png_bytes

_HEADS = (b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff")
_CHANNELS = "rgba"
Pixels = npt.NDArray[np.uint8]


def fitted(material: Material) -> tuple[Material, tuple[LeftOut, ...]]:
    """Convert a material so that its images are PNG or JPEG and its maps use the channels that glTF reads.

    Each image must contain its data (`Image.data`).

    Returns:
        The converted material, and the maps that were left out because their images can't be decoded.
    """
    layers = _Layers()
    kept = tuple(one for one in material.maps if layers.can_hold(one, material))
    lost = [
        LeftOut(f"material {material.name.display}: its {one.slot.value} map, whose image can't be decoded", seen=True)
        for one in material.maps
        if one not in kept
    ]
    whole = replace(material, maps=kept)
    plain = [layers.held(one) for one in kept if one.slot in (Slot.COLOUR, Slot.NORMAL, Slot.EMISSIVE)]
    maps = (*_with_opacity(whole, plain, layers), *_rough_and_metal(whole, layers))
    return replace(whole, maps=maps), tuple(lost)


class _Layers:
    """A cache of decoded images."""

    def __init__(self) -> None:
        self._known: dict[Image, Pixels] = {}

    def of(self, image: Image) -> Pixels:
        """Decode an image into pixels, (h, w, 4): red, green, blue, alpha.

        Raises:
            MeshqcError: The image can't be decoded.
        """
        if image not in self._known:
            data = image.data or b""
            self._known[image] = read_layer(Path(image.name.text), lambda _: io.BytesIO(data)).pixels
        return self._known[image]

    def can_hold(self, one: Map, material: Material) -> bool:
        """Whether a map can be kept: its image needs no conversion, or can be decoded."""
        if _is_held(one.image) and one.slot in (Slot.COLOUR, Slot.NORMAL, Slot.EMISSIVE):
            return True
        if _is_in_place(material, one):
            return True
        try:
            self.of(one.image)
        except MeshqcError:
            return False
        return True

    def held(self, one: Map) -> Map:
        """Return the map with its image as PNG or JPEG."""
        if _is_held(one.image):
            return one
        return replace(one, image=_png_image(one.image, b"", self.of(one.image)))

    def channel(self, one: Map) -> Pixels:
        """Return the channel that a map uses, (h, w); without a stated channel, the brightness of its image."""
        layer = self.of(one.image)
        if one.channel:
            channel: Pixels = layer[:, :, _CHANNELS.index(one.channel)]
            return channel
        # Luma of ITU-R BT.601; in a grey image, luma is the grey value.
        grey: Pixels = (layer[:, :, :3] @ np.array([299, 587, 114]) // 1000).astype(np.uint8)
        return grey


def _is_held(image: Image) -> bool:
    return image.data is not None and image.data.startswith(_HEADS)


def _is_in_place(material: Material, one: Map) -> bool:
    """Whether an opacity, roughness or metallic map is already in the channel that glTF reads.

    If the material has only one of the roughness and metallic maps, the factor of the other property must be 0, because
    glTF multiplies that factor by a channel of the existing map's image.
    """
    rough, metal = material.map(Slot.ROUGHNESS), material.map(Slot.METALLIC)
    if one.slot is Slot.OPACITY:
        colour = material.map(Slot.COLOUR)
        return _is_held(one.image) and one.channel == "a" and colour is not None and colour.image == one.image
    given = [each for each in (rough, metal) if each is not None]
    alike = len({(each.image, each.clamp) for each in given}) == 1
    channels = (rough is None or rough.channel == "g") and (metal is None or metal.channel == "b")
    free = (rough is not None or material.roughness == 0) and (metal is not None or not material.metallic)
    return _is_held(one.image) and alike and channels and free


def _rough_and_metal(material: Material, layers: _Layers) -> Iterator[Map]:
    """Yield the roughness and metallic maps, combined in one image: roughness in green, metallic in blue."""
    rough, metal = material.map(Slot.ROUGHNESS), material.map(Slot.METALLIC)
    given = [one for one in (rough, metal) if one is not None]
    if not given:
        return
    if _is_in_place(material, given[0]):
        yield from given
        return
    bands = [None if one is None else layers.channel(one) for one in (None, rough, metal)]
    image = _png_image(given[0].image, b"_roughness_metallic", _stacked(bands))
    for one in given:
        yield Map(one.slot, image, "g" if one.slot is Slot.ROUGHNESS else "b", clamp=given[0].clamp)


def _with_opacity(material: Material, plain: Sequence[Map], layers: _Layers) -> Iterator[Map]:
    """Yield the colour, normal and emissive maps, and the opacity map as the alpha channel of the colour image."""
    colour, opacity = material.map(Slot.COLOUR), material.map(Slot.OPACITY)
    if opacity is None or _is_in_place(material, opacity):
        yield from (*plain, *(() if opacity is None else (opacity,)))
        return
    base = colour or opacity
    rgb = [None] * 3 if colour is None else list(layers.of(colour.image)[:, :, :3].transpose(2, 0, 1))
    image = _png_image(base.image, b"_opacity", _stacked([*rgb, layers.channel(opacity)]))
    yield Map(Slot.COLOUR, image, clamp=base.clamp)
    yield from (one for one in plain if one.slot is not Slot.COLOUR)
    yield Map(Slot.OPACITY, image, "a", clamp=base.clamp)


def _stacked(bands: Sequence[Pixels | None]) -> Pixels:
    """Combine channels into one image as large as the largest channel, (h, w, c). A missing channel becomes white."""
    from PIL import Image as Pictures

    height, width = max((band.shape for band in bands if band is not None), key=lambda shape: shape[0] * shape[1])
    white = np.full((height, width), 255, np.uint8)
    whole = [white if band is None else np.asarray(Pictures.fromarray(band).resize((width, height))) for band in bands]
    return np.stack(whole, axis=2)


def _png_image(named_after: Image, ending: bytes, pixels: Pixels) -> Image:
    opaque = pixels.shape[2] == 4 and bool((pixels[:, :, 3] == 255).all())
    data = png_bytes(np.ascontiguousarray(pixels[:, :, :3] if opaque else pixels))
    return Image(Name(named_after.name.raw.rsplit(b".", 1)[0] + ending + b".png"), data)
