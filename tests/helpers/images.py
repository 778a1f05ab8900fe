"""Small images by formula, as files."""

from __future__ import annotations

import io
import struct
import zlib
from typing import Any

import numpy as np
import numpy.typing as npt
from PIL import Image

Pixels = npt.NDArray[np.uint8]


def image_file(pixels: npt.NDArray[Any] | Image.Image, format: str = "PNG", **options: Any) -> bytes:
    """Pixels (h, w), (h, w, 3) or (h, w, 4), or a picture, as a file of that format."""
    stream = io.BytesIO()
    picture = pixels if isinstance(pixels, Image.Image) else Image.fromarray(pixels)
    picture.save(stream, format, **options)
    return stream.getvalue()


def spots(width: int = 64, height: int = 20) -> Pixels:
    """A manta's back: blue-grey with pale patches, (height, width, 3); in the proportions that the wing wants."""
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    pale = (np.sin(x / 5.0) * np.cos(y / 4.0) > 0.4)[..., None]
    return np.where(pale, (205, 200, 190), (50, 62, 80)).astype(np.uint8) + (x % 3)[..., None].astype(np.uint8)


def normals(width: int = 64, height: int = 20) -> Pixels:
    """Ripples as a tangent-space normal map: unit vectors that face outward, -1 to 1 as 0 to 255."""
    x, y = np.meshgrid(np.arange(width), np.arange(height))
    slope = np.stack([0.6 * np.cos(x / 3.0), 0.4 * np.sin(y / 4.0), np.ones(x.shape)], axis=-1)
    unit = slope / np.linalg.norm(slope, axis=-1, keepdims=True)
    return np.rint((unit + 1.0) * 127.5).astype(np.uint8)


def png_header(width: int, height: int) -> bytes:
    """A PNG that claims a size (ISO/IEC 15948, section 11.2.2) and holds no pixel."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    header = chunk(b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + chunk(b"IDAT", b"") + chunk(b"IEND", b"")
