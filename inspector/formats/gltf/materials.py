"""Reading the materials of a glTF document, and the UVs that their maps use.

Source: Khronos, glTF 2.0 specification: 3.8 (textures), 3.9 (materials); extensions KHR_texture_transform,
KHR_materials_emissive_strength, KHR_materials_pbrSpecularGlossiness, EXT_texture_webp, KHR_texture_basisu.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from math import cos, sin
from urllib.parse import unquote

import numpy as np

from inspector.formats.format import Beside
from inspector.formats.gltf.accessors import Array
from inspector.formats.gltf.document import Buffers, Document, data_of, entries, entry, extension, numbers, value
from inspector.formats.mesh import Colour, Image, LeftOut, Map, Material, Slot, separate_uvs
from inspector.formats.problems import UnreadableFrame
from inspector.formats.wavefront.opacity import TR, kept_tr
from inspector.names import Name, safe

_ENDINGS = {
    "image/png": "png",
    "image/jpeg": "jpg",
    "image/webp": "webp",
    "image/ktx2": "ktx2",
    "image/avif": "avif",
    "image/vnd-ms.dds": "dds",
}
_SOURCES = ("EXT_texture_webp", "KHR_texture_basisu", "EXT_texture_avif", "MSFT_texture_dds")
"""glTF extensions for textures whose images are neither PNG nor JPEG."""
_TAKEN = frozenset(("KHR_materials_emissive_strength",))
_CLAMP = 33071  # 5.26.3
_REPEAT = 10497
_PNG, _JPEG = b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"


@dataclass(frozen=True, slots=True)
class MapUvs:
    """The UVs that a map uses.

    Attributes:
        uv_set: Index of the UV set: n for TEXCOORD_n.
        offset: Offset of the transform (KHR_texture_transform).
        rotation: Rotation of the transform, in radians.
        scale: Scale of the transform.
    """

    uv_set: int = 0
    offset: tuple[float, ...] = (0.0, 0.0)
    rotation: float = 0.0
    scale: tuple[float, ...] = (1.0, 1.0)

    def applied(self, uvs: Array) -> Array:
        """Scale, then rotate, then move UVs whose origin is the top left."""
        if self == MapUvs(self.uv_set):
            return uvs
        u, v = (uvs.astype(np.float64) * self.scale).T
        c, s = cos(self.rotation), sin(self.rotation)
        return np.column_stack([c * u + s * v, c * v - s * u]) + self.offset


@dataclass(frozen=True, slots=True)
class Surface:
    """A converted material, and the UVs that it uses.

    Attributes:
        material: The material; None for the default material.
        layout: The UVs of the colour map or, without a colour map, of the first map; TEXCOORD_0 if there are no maps.
        losses: Properties of the material that are not carried over.
    """

    material: Material | None = None
    layout: MapUvs = MapUvs()
    losses: tuple[LeftOut, ...] = ()


class Materials:
    """The materials of a document, each with a distinct name."""

    def __init__(self, document: Document, buffers: Buffers, beside: Beside) -> None:
        self._document, self._buffers, self._beside = document, buffers, beside
        self._images: dict[int, Image] = {}
        taken: set[str] = set()
        self._surfaces: list[Surface] = []
        for number, material in enumerate(entries(document, "materials")):
            if set(material) <= {"doubleSided", "extras"}:  # the default material, perhaps with visible backs
                self._surfaces.append(Surface())
                continue
            name = value(material, "name", str, "") or f"material{number + 1}"
            while name in taken:
                name += f"_{number + 1}"
            taken.add(name)
            self._surfaces.append(_MaterialReading(self, material, name).surface())

    @property
    def all(self) -> tuple[Material, ...]:
        """All materials except default materials, in the order of the document."""
        return tuple(one.material for one in self._surfaces if one.material is not None)

    def of(self, primitive: Document) -> Surface:
        """Return the converted material of a primitive.

        Raises:
            UnreadableFrame: The document breaks the specification.
        """
        if "material" not in primitive:
            return Surface()
        entry(self._document, "materials", primitive["material"])
        return self._surfaces[primitive["material"]]

    def texture(self, number: object) -> tuple[Image | None, bool, bool]:
        """Look up a texture.

        Returns:
            The image, or None; whether the texture is clamped in both directions; and whether its wrapping is mirrored
            or differs between the directions.

        Raises:
            UnreadableFrame: The document breaks the specification.
        """
        texture = entry(self._document, "textures", number)
        source = texture.get("source")
        if source is None:
            others = (extension(texture, name) for name in _SOURCES)
            source = next((one["source"] for one in others if one and "source" in one), None)
        sampler = entry(self._document, "samplers", texture["sampler"]) if "sampler" in texture else {}
        wraps = {value(sampler, key, int, _REPEAT) for key in ("wrapS", "wrapT")}
        return None if source is None else self._image(source), wraps == {_CLAMP}, not wraps < {_CLAMP, _REPEAT}

    def has_alpha(self, image: Image) -> bool:
        """Return whether an image is a PNG file with an alpha channel or a tRNS chunk; False if it can't be read.

        Source: ISO/IEC 15948, 11.2.2 (colour types 4 and 6 have alpha).
        """
        data = image.data
        with suppress(UnreadableFrame):
            data = self._beside(image.name.text) if data is None else data
        return data is not None and data.startswith(_PNG) and (data[25:26] in b"\4\6" or b"tRNS" in data[:4096])

    def _image(self, number: int) -> Image:
        image = entry(self._document, "images", number)
        if number not in self._images:
            self._images[number] = self._read_image(number, image)
        return self._images[number]

    def _read_image(self, number: int, image: Document) -> Image:
        uri = value(image, "uri", str, "")
        data = data_of(uri) if uri else self._buffers.view(image.get("bufferView"))[0]
        if data is None:
            return Image(Name(unquote(uri).encode("utf-8", "surrogateescape")))
        kind = value(image, "mimeType", str, "") or ("image/jpeg" if data.startswith(_JPEG) else "image/png")
        stem = value(image, "name", str, "") or f"texture{number + 1}"
        return Image(Name(f"{_plain(stem)}.{_ENDINGS.get(kind, 'png')}".encode()), data)


class _MaterialReading:
    """Reads one material."""

    def __init__(self, owner: Materials, document: Document, name: str) -> None:
        self._owner, self._document, self._name = owner, document, name
        self._maps: list[Map] = []
        self._layouts: dict[Slot, MapUvs] = {}
        self._missing: list[str] = []
        self._slight: list[str] = []

    def surface(self) -> Surface:
        glossy = extension(self._document, "KHR_materials_pbrSpecularGlossiness")
        if glossy is None:
            surface = value(self._document, "pbrMetallicRoughness", dict, {})
            colour, alpha, roughness, metallic = self._metallic_roughness(surface)
        else:
            colour, alpha, roughness, metallic = self._specular_glossiness(glossy)
        opacity = self._opacity(alpha)
        self._map(Slot.NORMAL, self._document.get("normalTexture"))
        strength = value(
            extension(self._document, "KHR_materials_emissive_strength") or {}, "emissiveStrength", float, 1
        )
        emits = [strength * one for one in numbers(self._document, "emissiveFactor", (0, 0, 0))]
        if any(emits):
            self._map(Slot.EMISSIVE, self._document.get("emissiveTexture"))
        if "occlusionTexture" in self._document:
            self._missing.append("its occlusion map")
        self._missing += [safe(key) for key in value(self._document, "extensions", dict, {}) if key not in _TAKEN]
        extras = self._document.get("extras")
        material = Material(
            Name(self._name.encode("utf-8", "surrogateescape")),
            colour,
            opacity,
            roughness,
            metallic,
            (emits[0], emits[1], emits[2]) if any(emits) else None,
            tuple(self._maps),
            kept_tr(extras.get(TR) if isinstance(extras, dict) else None, opacity),
        )
        return Surface(material, next(iter(self._layouts.values()), MapUvs()), tuple(self._losses()))

    def _metallic_roughness(self, surface: Document) -> tuple[Colour, float, float, float | None]:
        red, green, blue, alpha = numbers(surface, "baseColorFactor", (1, 1, 1, 1))
        self._map(Slot.COLOUR, surface.get("baseColorTexture"))
        self._map(Slot.ROUGHNESS, surface.get("metallicRoughnessTexture"), "g")
        self._map(Slot.METALLIC, surface.get("metallicRoughnessTexture"), "b")
        roughness, metallic = (value(surface, f"{key}Factor", float, 1.0) for key in ("roughness", "metallic"))
        return (red, green, blue), alpha, float(roughness), float(metallic)

    def _specular_glossiness(self, surface: Document) -> tuple[Colour, float, float, float | None]:
        """Read a material of KHR_materials_pbrSpecularGlossiness without its specular colour.

        Returns:
            The colour, the alpha, the roughness, and None for the metallic factor.
        """
        red, green, blue, alpha = numbers(surface, "diffuseFactor", (1, 1, 1, 1))
        self._map(Slot.COLOUR, surface.get("diffuseTexture"))
        return (red, green, blue), alpha, 1.0 - float(value(surface, "glossinessFactor", float, 1.0)), None

    def _opacity(self, alpha: float) -> float:
        """Determine the opacity (glTF 2.0, 3.9.4). Add an opacity map if the mode is BLEND or MASK and the colour map
        has an alpha channel.
        """
        mode = value(self._document, "alphaMode", str, "OPAQUE")
        if mode not in ("BLEND", "MASK"):
            return 1.0
        colour = next((one for one in self._maps if one.slot is Slot.COLOUR), None)
        if colour is not None and self._owner.has_alpha(colour.image):
            self._maps.append(Map(Slot.OPACITY, colour.image, "a", clamp=colour.clamp))
            self._layouts[Slot.OPACITY] = self._layouts[Slot.COLOUR]
        if mode == "BLEND":
            return alpha
        cut = float(value(self._document, "alphaCutoff", float, 0.5))
        self._slight.append(f"its alpha cutoff of {cut:g}")
        return 1.0 if alpha >= cut else 0.0

    def _map(self, slot: Slot, info: object, channel: str = "") -> None:
        if not isinstance(info, dict):
            return
        image, clamp, uneven = self._owner.texture(info.get("index"))
        if image is None:
            self._missing.append(f"its {slot.value} map without an image")
            return
        if uneven:
            self._slight.append(f"the wrapping of its {slot.value} map (mirrored, or in one direction only)")
        strength = float(value(info, "scale", float, 1.0)) if slot is Slot.NORMAL else 1.0
        self._maps.append(Map(slot, image, channel, strength, clamp))
        self._layouts[slot] = _layout(info)

    def _losses(self) -> Iterator[LeftOut]:
        self._missing += separate_uvs(self._layouts, next(iter(self._layouts.values()), None))
        for texts, visible in ((self._missing, True), (self._slight, False)):
            if texts:
                yield LeftOut(f"material {safe(self._name)}: {', '.join(dict.fromkeys(texts))}", visible)


def _layout(info: Document) -> MapUvs:
    uv_set = value(info, "texCoord", int, 0)
    moved = extension(info, "KHR_texture_transform")
    if moved is None:
        return MapUvs(uv_set)
    return MapUvs(
        value(moved, "texCoord", int, uv_set),
        numbers(moved, "offset", (0, 0)),
        float(value(moved, "rotation", float, 0.0)),
        numbers(moved, "scale", (1, 1)),
    )


def _plain(name: str) -> str:
    """Convert a name in the document to a file name that has no extension and can't lead to another folder."""
    kept = "".join(letter if letter.isalnum() or letter in "-_" else "_" for letter in name.rsplit(".", 1)[0])
    return kept[:100] or "texture"
