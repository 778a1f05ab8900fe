"""Decode image files, with limits on memory and time."""

from __future__ import annotations

import struct
import warnings
import zlib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO, TypeVar

import numpy as np

from inspector.errors import MeshqcError
from inspector.names import Name, safe
from inspector.picture.canvas import Picture
from inspector.threshold import Threshold

IMAGE_PIXELS = Threshold(
    "image-pixels",
    1 << 26,
    "Maximum size of a texture that is decoded: 8192 x 8192 pixels, the largest size in common use. If a texture is "
    "larger, only its header is read, and a note reports this. A texture of the maximum size takes 270 MB of memory "
    "(4 bytes per pixel), well within this tool's memory budget of 1.5 GB.",
    unit="pixels",
)

T = TypeVar("T")

if TYPE_CHECKING:
    from PIL.Image import Image

FORMATS = ("PNG", "JPEG", "TIFF", "TGA", "BMP", "WEBP", "JPEG2000", "PPM", "GIF", "DDS", "SGI", "PCX")
"""Formats that Pillow decodes without another program."""

BROKEN = (
    *(OSError, SyntaxError, ValueError, ArithmeticError, LookupError, TypeError, AttributeError, EOFError),
    *(MemoryError, struct.error, zlib.error),
)
"""Exceptions that decoders raise for damaged files."""

_START_OF_SCAN = b"\xff\xda"
_PIECE = 1 << 20  # bytes read at a time

_MOST_SCANS = 100
"""Maximum number of scans in a progressive JPEG file. Encoders write about ten."""

_MOST_SCANNED = 2_000_000_000
"""Maximum product of the number of pixels and the number of scans in a JPEG file. At this maximum, decoding takes about
10 s."""

_DEPTHS = {"1": 1, "I": 32, "F": 32, "I;16": 16, "I;16B": 16, "I;16L": 16}
_BITS_PER_SAMPLE = 258  # TIFF 6.0, section 4

_GREY = 128
"""Grey value under transparent pixels, on which both black and white lettering is visible."""


def _open(path: Path) -> BinaryIO:
    return path.open("rb")


def too_slow(stream: BinaryIO, format_name: str | None, size: tuple[int, int] | None) -> str | None:
    """Return why an image would take too long to decode, as a clause; None if decoding is fast enough.

    Scans of a JPEG file are counted by their start-of-scan markers (ITU-T T.81, B.2.3).

    Args:
        stream: The file; its position changes.
        format_name: Format of the file, as Pillow names it; None if it isn't known.
        size: Width and height, in pixels; None if they aren't known.
    """
    if format_name != "JPEG" or size is None:
        return None
    stream.seek(0)
    scans, last = 0, b""
    while piece := stream.read(_PIECE):
        scans += (last + piece).count(_START_OF_SCAN)
        last = piece[-1:]
    if scans > _MOST_SCANS or scans * size[0] * size[1] > _MOST_SCANNED:
        return f"its {scans:,} progressive scans would take too long to decode"
    return None


def read_picture(path: Path, longest: int | None = None, open_file: Callable[[Path], BinaryIO] = _open) -> Picture:
    """Decode an image file as (h, w, 3) uint8, blend transparent pixels with grey, and reduce 16 bits per channel to 8.

    Args:
        path: The file.
        longest: Maximum length of a side, in pixels; None for the original size.
        open_file: Function that opens the file.

    Raises:
        MeshqcError: The file can't be decoded, has floating-point pixels or more than IMAGE_PIXELS pixels, or would
            take too long to decode.
    """
    return _decoded(path, open_file, lambda image, _: np.asarray(_on_grey(_smaller(_eight_bits(image, path), longest))))


def image_size(path: Path) -> tuple[int, int]:
    """Read the width and the height of an image file, in pixels, from its header.

    Raises:
        MeshqcError: The file can't be read.
    """
    from PIL import Image

    name = Name.from_path(path)
    try:
        with warnings.catch_warnings(), path.open("rb") as stream:
            warnings.simplefilter("ignore")
            with Image.open(stream, formats=FORMATS) as image:
                return image.size
    except BROKEN as error:
        raise MeshqcError(f"{name}: can't be read as an image") from error


@dataclass(frozen=True, eq=False)
class Layer:
    """An image to draw on, decoded from a file.

    Attributes:
        pixels: Red, green, blue and opacity, (h, w, 4) uint8.
        bits: Bits per channel in the file.
        profile: ICC profile of the file; empty unless it is for red, green and blue, as in `pixels`.
        other_profile: Colour space of the file's ICC profile; empty if the file has no ICC profile, or if `profile`
            contains it.
    """

    pixels: Picture
    bits: int
    profile: bytes
    other_profile: str


def read_layer(path: Path, open_file: Callable[[Path], BinaryIO] = _open) -> Layer:
    """Decode an image file with its opacity, and reduce 16 bits per channel to 8.

    Args:
        path: The file.
        open_file: Function that opens the file.

    Raises:
        MeshqcError: The file can't be decoded, has floating-point pixels or more than IMAGE_PIXELS pixels, or would
            take too long to decode.
    """

    def finish(image: Image, stream: BinaryIO) -> Layer:
        profile = image.info.get("icc_profile") or b""
        space = profile[16:20].decode("ascii", "replace").strip()  # data colour space (ICC.1:2022, 7.2.8)
        kept = space == "RGB" and image.mode in ("RGB", "RGBA", "P")
        pixels = np.asarray(_eight_bits(image, path).convert("RGBA"))
        return Layer(pixels, bits_per_channel(image, stream), profile if kept else b"", "" if kept else safe(space))

    return _decoded(path, open_file, finish)


def bits_per_channel(picture: Image, stream: BinaryIO) -> int:
    """Return the number of bits per channel in an image file.

    For PNG and TIFF, the number is read from the file itself, because Pillow converts 16-bit colours to 8 bits.
    """
    if picture.format == "PNG":
        stream.seek(24)
        return stream.read(1)[0]  # IHDR, PNG specification (ISO/IEC 15948), 11.2.2
    if picture.format == "TIFF":
        bits = getattr(picture, "tag_v2", {}).get(_BITS_PER_SAMPLE, (8,))
        return int(max(bits)) if isinstance(bits, tuple) else int(bits)
    return _DEPTHS.get(picture.mode, 8)


def flattened(layer: Picture, longest: int | None = None) -> Picture:
    """Convert a layer to the picture, (h, w, 3), that `read_picture` would return for it."""
    from PIL import Image

    return np.asarray(_on_grey(_smaller(Image.fromarray(layer), longest)))


def _decoded(path: Path, open_file: Callable[[Path], BinaryIO], finish: Callable[[Image, BinaryIO], T]) -> T:
    """Decode an image file, and return the result of `finish` for the image and its stream.

    Raises:
        MeshqcError: The file can't be decoded, has more than IMAGE_PIXELS pixels, or would take too long to decode.
    """
    from PIL import Image, UnidentifiedImageError

    name = Name.from_path(path)
    try:
        with warnings.catch_warnings(), open_file(path) as stream:
            warnings.simplefilter("ignore")
            with Image.open(stream, formats=FORMATS) as image:
                width, height = image.size
                if width * height > IMAGE_PIXELS.value:
                    raise MeshqcError(f"{name}: {width:,} x {height:,} pixels are too many to decode")
                at = stream.tell()
                if why := too_slow(stream, image.format, image.size):
                    raise MeshqcError(f"{name}: {why}")
                stream.seek(at)
                image.load()
                return finish(image, stream)
    except Image.DecompressionBombError as error:
        raise MeshqcError(f"{name}: the image has too many pixels to decode") from error
    except UnidentifiedImageError as error:
        raise MeshqcError(f"{name}: can't be read as an image, because its format is unknown") from error
    except BROKEN as error:
        raise MeshqcError(f"{name}: can't be read as an image: {safe(str(error))}") from error


def _eight_bits(image: Image, path: Path) -> Image:
    """Convert an image to 8 bits per channel, RGB or RGBA. Floating-point pixels raise a MeshqcError."""
    from PIL import Image

    if image.mode == "F":
        name = Name.from_path(path)
        raise MeshqcError(
            f"{name}: the image has floating-point pixels, whose brightness on the screen is not defined; save it "
            "with 8 or 16 bits per channel"
        )
    if image.mode.startswith("I"):
        image = Image.fromarray(np.asarray(np.clip(np.asarray(image, np.int64) >> 8, 0, 255), np.uint8))
    return image.convert("RGBA" if image.has_transparency_data else "RGB")


def _smaller(image: Image, longest: int | None) -> Image:
    if longest is None or max(image.size) <= longest:
        return image
    from PIL import Image

    share = longest / max(image.size)
    width, height = (max(1, round(side * share)) for side in image.size)
    return image.resize((width, height), Image.Resampling.BOX)


def _on_grey(image: Image) -> Image:
    if image.mode == "RGB":
        return image
    from PIL import Image

    ground = Image.new("RGBA", image.size, (_GREY, _GREY, _GREY, 255))
    return Image.alpha_composite(ground, image).convert("RGB")
