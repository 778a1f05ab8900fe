"""Moving pictures: MP4 with H.264 (ISO/IEC 14496-12 and -10), animated GIF, WebP and PNG (APNG: ISO/IEC 15948, third
edition).

MP4 is written picture by picture with PyAV (the extra `movie`), so that memory does not grow with the length. The other
formats are written by Pillow, which needs all pictures together.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction
from itertools import chain
from typing import Any

import numpy as np

from inspector.errors import MeshqcError
from inspector.picture.canvas import Picture

STREAMED = ".mp4"
ENDINGS = (".png", ".gif", ".webp", STREAMED)

_QUALITY = "18"
"""Constant rate factor of H.264: at 18 the loss is hardly visible, and lettering stays sharp (common practice, no
source)."""

_PRESET = "veryfast"
"""How long the encoder searches for repetition: files are a few per cent larger and take a fraction of the time."""


def require(ending: str) -> None:
    """Check that what a kind of file needs is installed.

    Args:
        ending: One of ENDINGS.

    Raises:
        MeshqcError: A package is missing.
    """
    if ending == STREAMED:
        try:
            import av  # noqa: F401
        except ImportError as error:
            raise MeshqcError("an MP4 needs the extra `movie`: in the clone, pip install '.[movie]'") from error


def movie_bytes(pictures: Iterable[Picture], rate: Fraction, ending: str) -> bytes:
    """Encode a moving picture; it repeats endlessly if the format can state that.

    Args:
        pictures: (height, width, 3) uint8 RGB, all of one size. For MP4 they are taken one by one.
        rate: Pictures per second.
        ending: One of ENDINGS.

    Raises:
        ValueError: There is no picture, or they differ in size.
    """
    rest = iter(pictures)
    first = next(rest, None)
    if first is None:
        raise ValueError("a moving picture takes one or more pictures")
    same = (_of_size(picture, first.shape) for picture in chain([first], rest))
    return _mp4(same, first.shape, rate) if ending == STREAMED else _pillow(same, rate, ending)


def _of_size(picture: Picture, shape: tuple[int, ...]) -> Picture:
    if picture.shape != shape:
        raise ValueError("a moving picture takes pictures of one size")
    return picture


def _pillow(pictures: Iterable[Picture], rate: Fraction, ending: str) -> bytes:
    from PIL import Image

    first, *rest = (Image.fromarray(picture) for picture in pictures)
    how: dict[str, Any] = {"lossless": True} if ending == ".webp" else {}
    stream = io.BytesIO()
    form = ending.removeprefix(".").upper()
    first.save(stream, form, save_all=True, append_images=rest, duration=float(1000 / rate), loop=0, **how)
    return stream.getvalue()


def _mp4(pictures: Iterable[Picture], shape: tuple[int, ...], rate: Fraction) -> bytes:
    import av

    height, width = shape[:2]
    odd = ((0, height % 2), (0, width % 2), (0, 0))  # colours are stored for blocks of 2 x 2 pixels
    stream = io.BytesIO()
    with av.open(stream, "w", format="mp4") as container:
        video = container.add_stream("libx264", rate=rate, options={"crf": _QUALITY, "preset": _PRESET})
        video.height, video.width, video.pix_fmt = height + height % 2, width + width % 2, "yuv420p"
        for picture in pictures:
            whole = np.ascontiguousarray(np.pad(picture, odd, "edge"))
            container.mux(video.encode(av.VideoFrame.from_ndarray(whole, "rgb24")))
        container.mux(video.encode(None))
    return stream.getvalue()
