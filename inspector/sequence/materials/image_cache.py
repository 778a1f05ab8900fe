"""Examine the content of texture files. Each file is decoded once per run, in bounded memory and time."""

from __future__ import annotations

import io
import os
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
import numpy.typing as npt

from inspector.formats.problems import UnreadableFrame
from inspector.formats.reading import source_text
from inspector.names import Name
from inspector.picture.image_files import BROKEN, FORMATS, IMAGE_PIXELS, bits_per_channel, too_slow
from inspector.safe_open import open_place, read_place
from inspector.sequence.discovery.scope import Scope
from inspector.surface.height_field import green_up
from inspector.threshold import Threshold

NORMAL_LENGTH_OFF = Threshold(
    "normal-length-off",
    0.2,
    "A decoded normal counts as having length 1 if its length differs from 1 by at most this value. The difference is "
    "0.01 with eight bits per channel, about 0.1 after strong compression and filtering, and 0.3 or more in a colour "
    "map (common practice, no source).",
)

NORMAL_LEAN = Threshold(
    "normal-lean",
    0.4,
    "An image is recognised as a normal map only if its vectors point outwards on average: the mean outward component "
    "must be above this value, and each mean sideways component must be smaller in magnitude than this value. Read as "
    "vectors, the colours of pale sand and of a blue sky have length 1, like the vectors of a normal map, but their "
    "mean sideways components reach 0.5 and 0.6 (common practice, no source).",
)

NORMAL_STRAIGHT = Threshold(
    "normal-straight",
    0.1,
    "The lengths of a map's vectors are ignored if each mean sideways component is smaller in magnitude than this "
    "value, and the mean outward component is above `normal-lean`. Strong compression removes the colour of fine, "
    "steep relief, which changes the lengths but not the means. Among colour maps, only blue-violet maps have such "
    "means.",
)

NORMAL_SHARE = Threshold(
    "normal-share",
    0.25,
    "In a normal map, at most this share of the pixels may have vectors whose length is not 1 (see "
    "`normal-length-off`). Above this share, the pixels do not count as normals, unless the lengths are ignored "
    "because of `normal-straight`. The limit is generous, because the unused space between islands is black or white "
    "in some maps.",
)

NORMAL_LOOKS_SHARE = Threshold(
    "normal-looks-share",
    0.05,
    "For a texture to be recognised as a normal map by its colours alone, two shares of its pixels must be below this "
    "value: the share whose vectors point inwards, and the share whose vectors do not have length 1. Pixels of the "
    "most common colour are not counted. The limit is stricter than `normal-share`, because nothing else shows that "
    "the file is a normal map.",
)

NORMAL_INWARD = Threshold(
    "normal-inward",
    0.25,
    "In a normal map, at most this share of the pixels may have vectors that point inwards. Above this share, the map "
    "does not count as a map in tangent space. In tangent space, no vectors point inwards. In the object space of a "
    "closed object, half of the vectors point inwards.",
)

NORMAL_ALONG_GREY = Threshold(
    "normal-along-grey",
    0.8,
    "Pale and dark greys are decoded as vectors along the direction from black to white. For each vector of a map, the "
    "absolute value of its component in this direction is measured. If the mean of these values is above this limit, "
    "the pixels count as greys, not as normals. The mean is 0.5 for the normals of a sphere, and 0.58 for those of a "
    "flat surface.",
)

IMAGES_PIXELS = Threshold(
    "images-pixels",
    1 << 28,
    "Maximum number of pixels that are decoded in one run, over all textures. This is sixteen maps of 4096 x 4096 "
    "pixels, or about 10 s of work. Only the headers of further textures are read, and a finding reports this.",
    unit="pixels",
)

_IMAGE_SAMPLES = 512
"""Maximum number of pixels along the longer side of the sample from which a texture's colours are judged."""

if TYPE_CHECKING:
    from PIL.Image import Image

ENDINGS = {
    **dict.fromkeys((".jpg", ".jpeg", ".jpe"), "JPEG"),
    **dict.fromkeys((".tif", ".tiff"), "TIFF"),
    **dict.fromkeys((".jp2", ".j2k"), "JPEG2000"),
    **dict.fromkeys((".ppm", ".pgm", ".pbm", ".pnm"), "PPM"),
    **dict.fromkeys((".sgi", ".rgb", ".rgba", ".bw"), "SGI"),
    **{f".{name.lower()}": name for name in ("PNG", "TGA", "BMP", "WEBP", "GIF", "DDS", "PCX")},
}
"""Pillow's name for the image format, by file extension in lower case (common practice, no source)."""

_GREY_MODES = ("1", "L", "LA", "La", "I", "F", "I;16", "I;16B", "I;16L")
_ORIENTATION = 0x0112  # Exif 2.3, 4.6.4: 1 is upright


@dataclass(frozen=True, slots=True)
class ImageFacts:
    """The content of one image file.

    If `damage` or `unjudged` is set, at most format and size are known. The values from `transparent` to `flat_blue`
    are measured on a sample of at most _IMAGE_SAMPLES pixels per side, and `green_up` on the middle of the image.

    Attributes:
        damage: Why the image can't be decoded, in plain words; None if it can be decoded.
        unjudged: Why the image was not decoded although it may be intact, in plain words; otherwise None.
        format: Pillow's name for the format.
        size: Width and height, in pixels.
        mode: Pillow's name for the colour model.
        depth: Bits per channel.
        several: Whether the file has more than one image.
        upright: Whether the image is stored upright; False if an Exif tag requires a rotation or a reflection.
        transparent: Fraction of the pixels that are not fully opaque.
        one_colour: Whether all pixels are equal.
        grey: Whether all pixels are grey.
        off_length: Fraction of the normals that don't have length 1. Here and below, the normals are the pixels read as
            vectors (`_vectors`).
        inward: Fraction of the normals that point inwards.
        mean: Mean of the normals, (x, y, z).
        along_grey: Mean absolute component of the normals along the direction from black to white.
        flat_blue: Whether blue is the same in all pixels, but red or green is not. In such maps, the third component of
            a normal is computed from red and green.
        green_up: Whether the green component of the normals points up; None if the image doesn't look like a normal
            map, or if its relief doesn't show the direction.
    """

    damage: str | None = None
    unjudged: str | None = None
    format: str | None = None
    size: tuple[int, int] | None = None
    mode: str = ""
    depth: int = 8
    several: bool = False
    upright: bool = True
    transparent: float = 0.0
    one_colour: bool = False
    grey: bool = False
    off_length: float = 0.0
    inward: float = 0.0
    mean: tuple[float, float, float] = (0.0, 0.0, 0.0)
    along_grey: float = 0.0
    flat_blue: bool = False
    green_up: bool | None = None

    @property
    def decoded(self) -> bool:
        """Whether the image was decoded."""
        return self.damage is None and self.unjudged is None

    @property
    def looks_like_normals(self) -> bool:
        """Whether the colours alone show that this is a normal map: vectors of length 1 that point outwards on
        average."""
        x, y, z = self.mean
        outward = max(abs(x), abs(y)) < NORMAL_LEAN.value < z
        unit = max(self.off_length, self.inward) < NORMAL_LOOKS_SHARE.value
        return self.decoded and not self.grey and not self.one_colour and outward and unit

    @property
    def is_no_normal_map(self) -> bool:
        """Whether the colours can't be normals: too many vectors don't have length 1, or the colours are close to grey.

        False for a map with `flat_blue`, whose third component is not known.
        """
        if self.flat_blue and not self.grey:
            return False
        x, y, z = self.mean
        straight = max(abs(x), abs(y)) < NORMAL_STRAIGHT.value and z > NORMAL_LEAN.value
        off = self.off_length > NORMAL_SHARE.value and not straight
        return self.decoded and (self.grey or off or self.along_grey > NORMAL_ALONG_GREY.value)

    @property
    def is_not_tangent(self) -> bool:
        """Whether too many normals point inwards for a map in tangent space; False for a map with `flat_blue`."""
        return self.decoded and not self.flat_blue and self.inward > NORMAL_INWARD.value


class ImageCache:
    """The images of one run.

    Each image is examined once. IMAGES_PIXELS limits the total number of decoded pixels.
    """

    def __init__(self, scope: Scope) -> None:
        self._scope = scope
        self._facts: dict[Path, ImageFacts] = {}
        self._inside: dict[Path, tuple[Path, Name]] = {}
        self._left = IMAGES_PIXELS.value

    def add_inside(self, frame: Path, name: Name) -> Path:
        """Register an image inside a frame's file. Return the path to pass to `of` for this image. No file has this
        path."""
        path = frame / name.text
        self._inside[path] = frame, name
        return path

    def of(self, path: Path) -> ImageFacts:
        """Examine an image file inside the folders that may be read, or an image inside a frame's file.

        Args:
            path: Path of the file; for an image inside a frame's file, the path from `add_inside`.
        """
        if path not in self._facts:
            self._facts[path] = self._look_inside(*self._inside[path]) if path in self._inside else self._look(path)
        return self._facts[path]

    def _look_inside(self, frame: Path, name: Name) -> ImageFacts:
        try:
            place = self._scope.place(frame)
            data = inside_images(place, place.lstat().st_mtime_ns)[name]
        except (OSError, UnreadableFrame, KeyError):
            return ImageFacts(damage="the frame's file can't be read again")
        header = _headed(lambda: io.BytesIO(data), name.raw[name.raw.rfind(b".") :].decode("ascii", "replace"))
        return self._bounded(header, lambda: _pixels(lambda: io.BytesIO(data)))

    def _look(self, path: Path) -> ImageFacts:
        try:
            place = self._scope.place(path)
            status = place.lstat()
        except OSError as error:
            return ImageFacts(damage=error.strerror or "it can't be opened")
        state = status.st_size, status.st_mtime_ns
        return self._bounded(_header(place, state), lambda: _decoded(place, state))

    def _bounded(self, header: ImageFacts, decode: Callable[[], ImageFacts]) -> ImageFacts:
        """Return the facts of the decoded image. If the header is damaged, or decoding would exceed a limit, return
        only the facts that the header gives."""
        if header.size is None or not header.decoded:
            return header
        pixels = header.size[0] * header.size[1]
        if pixels > IMAGE_PIXELS.value:
            return replace(header, unjudged=f"{header.size[0]:,} x {header.size[1]:,} pixels are too many to decode")
        if pixels > self._left:
            return replace(header, unjudged="too many large images to decode in one run")
        self._left -= pixels
        return decode()


@lru_cache(maxsize=2)
def inside_images(frame: Path, _: int) -> Mapping[Name, bytes]:
    """Return the bytes of the images inside a frame's file, by name.

    Args:
        frame: The file.
        _: Modification time of the file, in ns. It is part of the cache's key, so a changed file is read again.

    Raises:
        OSError: The file can't be read.
        UnreadableFrame: The file can't be read as a frame.
    """
    images = source_text(read_place(frame), frame, read_place).images
    return {image.name: image.data or b"" for image in images}


@lru_cache(maxsize=4096)
def _header(place: Path, state: tuple[int, int]) -> ImageFacts:
    """Read the format and the size of an image file. The state identifies the file's content in the cache."""
    if state[0] == 0:
        return ImageFacts(damage="the file is empty")
    return _headed(lambda: os.fdopen(open_place(place), "rb"), place.suffix)


def _headed(open_image: Callable[[], BinaryIO], suffix: str) -> ImageFacts:
    """Read the format and the size of an image. The suffix is its file extension, with the dot."""
    from PIL import Image, UnidentifiedImageError

    try:
        with warnings.catch_warnings(), open_image() as stream:
            warnings.simplefilter("ignore")
            with Image.open(stream, formats=FORMATS) as picture:
                facts = ImageFacts(format=picture.format, size=picture.size)
            why = too_slow(stream, facts.format, facts.size)
            return replace(facts, unjudged=why) if why else facts
    except Image.DecompressionBombError:
        return ImageFacts(unjudged="it has too many pixels to decode")
    except UnidentifiedImageError:
        known = suffix.lower() in ENDINGS
        return (
            ImageFacts(damage="its content is not an image") if known else ImageFacts(unjudged="its format is unknown")
        )
    except BROKEN as error:
        return ImageFacts(damage=_reason(error))


@lru_cache(maxsize=4096)
def _decoded(place: Path, _: tuple[int, int]) -> ImageFacts:
    return _pixels(lambda: os.fdopen(open_place(place), "rb"))


def _pixels(open_image: Callable[[], BinaryIO]) -> ImageFacts:
    """Decode an image, and return its facts."""
    from PIL import Image

    try:
        with warnings.catch_warnings(), open_image() as stream:
            warnings.simplefilter("ignore")
            with Image.open(stream, formats=FORMATS) as picture:
                picture.verify()  # the checksums of a PNG, which decoding ignores; afterwards, `picture` can't be used
            stream.seek(0)
            with Image.open(stream, formats=FORMATS) as picture:
                picture.load()
                return _measured(picture, stream)
    except BROKEN as error:
        return ImageFacts(damage=_reason(error))


def _reason(error: BaseException) -> str:
    """Return the operating system's reason for an error, or a general reason. Pillow's own message is not used, because
    it may quote the file."""
    if isinstance(error, OSError) and error.strerror:
        return error.strerror
    return "its data is damaged or cut off"


def _measured(picture: Image, stream: BinaryIO) -> ImageFacts:
    from PIL import Image

    share = _IMAGE_SAMPLES / max(*picture.size, _IMAGE_SAMPLES)
    width, height = (max(1, round(side * share)) for side in picture.size)
    sample = picture.resize((width, height), Image.Resampling.NEAREST)
    facts = ImageFacts(
        format=picture.format,
        size=picture.size,
        mode=picture.mode,
        depth=bits_per_channel(picture, stream),
        upright=picture.getexif().get(_ORIENTATION, 1) == 1,
    )
    if picture.mode in _GREY_MODES:
        low, high = np.asarray(sample).min(), np.asarray(sample).max()
        facts = replace(facts, grey=True, one_colour=bool(low == high))
    else:
        facts = coloured(facts, np.asarray(sample.convert("RGB"), np.int64).reshape(-1, 3))
        if facts.looks_like_normals:
            facts = replace(facts, green_up=green_up(_middle(picture)))
    if picture.has_transparency_data:
        alpha = np.asarray(sample.convert("RGBA"))[..., 3]
        facts = replace(facts, transparent=float((alpha < 255).mean()))
    return replace(facts, several=_several(picture))


def _middle(picture: Image) -> npt.NDArray[np.float64]:
    """Return the middle of an image, without skipping pixels, as vectors, (h, w, 3), with components from -1 to 1."""
    sides = [min(side, _IMAGE_SAMPLES) for side in picture.size]
    left, top = ((whole - side) // 2 for whole, side in zip(picture.size, sides, strict=True))
    middle = picture.crop((left, top, left + sides[0], top + sides[1])).convert("RGB")
    return np.asarray(middle, np.float64) / 127.5 - 1.0


def _several(picture: Image) -> bool:
    """Return whether a file has more than one image, without counting its images."""
    try:
        picture.seek(1)
    except EOFError:
        return False
    return True


def coloured(facts: ImageFacts, pixels: npt.NDArray[np.int64]) -> ImageFacts:
    """Complete the facts with the values that follow from the colours of pixels, (n, 3), from 0 to 255."""
    vectors = _vectors(pixels)
    off = np.abs(np.linalg.norm(vectors, axis=1) - 1.0) > NORMAL_LENGTH_OFF.value
    x, y, z = vectors.mean(axis=0).tolist()
    return replace(
        facts,
        one_colour=bool((pixels == pixels[0]).all()),
        grey=bool((pixels == pixels[:, :1]).all()),
        off_length=float(off.mean()),
        inward=float((vectors[:, 2] < 0.0).mean()),
        mean=(x, y, z),
        flat_blue=bool((pixels[:, 2] == pixels[0, 2]).all() and not (pixels == pixels[0]).all()),
        along_grey=float(np.abs(vectors.sum(axis=1)).mean() / 3.0**0.5),
    )


def _vectors(pixels: npt.NDArray[np.int64]) -> npt.NDArray[np.float64]:
    """Convert colours, (n, 3), to vectors, (k, 3): 0 becomes -1, and 255 becomes 1 (common practice, no source).

    If there is more than one colour, pixels of the most common colour are left out: it often fills the space between UV
    islands.
    """
    _, which, counts = np.unique(pixels @ (65536, 256, 1), return_inverse=True, return_counts=True)
    rest = pixels[which != counts.argmax()] if len(counts) > 1 else pixels
    return rest / 127.5 - 1.0
