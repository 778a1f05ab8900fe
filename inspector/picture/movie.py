"""Encode animations: animated PNG, GIF and WebP, and MP4 with H.264 (ISO/IEC 14496-12 and 14496-10).

MP4 is encoded by PyAV, which comes with the extra `movie`.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from fractions import Fraction
from itertools import chain

import numpy as np

from inspector.errors import MeshqcError
from inspector.picture.animated import ANIMATED
from inspector.picture.canvas import Picture

_MP4 = ".mp4"
ENDINGS = (*ANIMATED, _MP4)

_QUALITY = "18"
"""Constant rate factor of H.264. At 18, the loss is hardly visible (common practice, no source)."""

_PRESET = "veryfast"
"""A preset of the encoder that is much faster than the default preset."""


def require(ending: str) -> None:
    """Check that the packages for a file format are installed.

    Args:
        ending: File name extension of the format, one of ENDINGS.

    Raises:
        MeshqcError: A package is missing.
    """
    if ending == _MP4:
        try:
            import av  # noqa: F401
        except ImportError as error:
            raise MeshqcError(
                "MP4 needs the extra `movie`: in the clone of meshqc, run pip install '.[movie]'"
            ) from error


def movie_bytes(pictures: Iterable[Picture], rate: Fraction, ending: str) -> bytes:
    """Return the content of an animation file. The animation repeats endlessly if the format supports that.

    Args:
        pictures: The pictures, (height, width, 3) uint8, all of the same size. They are read one at a time.
        rate: Pictures per second.
        ending: File name extension of the format, one of ENDINGS.

    Raises:
        ValueError: There is no picture, or the pictures differ in size.
    """
    rest = iter(pictures)
    first = next(rest, None)
    if first is None:
        raise ValueError("an animation needs at least one picture")
    same = (_of_size(picture, first.shape) for picture in chain([first], rest))
    return _mp4(same, first.shape, rate) if ending == _MP4 else ANIMATED[ending](same, rate)


def _of_size(picture: Picture, shape: tuple[int, ...]) -> Picture:
    if picture.shape != shape:
        raise ValueError("all pictures of an animation must have the same size")
    return picture


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
