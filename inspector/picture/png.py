"""Pictures to PNG bytes and back (ISO/IEC 15948; animations: the APNG chunks of its third edition, 2025)."""

from __future__ import annotations

import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from inspector.errors import MeshqcError
from inspector.names import Name, safe
from inspector.picture.canvas import Picture


def png_bytes(picture: Picture) -> bytes:
    """An 8-bit RGB PNG of (h, w, 3)."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "PNG")
    return stream.getvalue()


def animated_png_bytes(pictures: Sequence[Picture], rate: float) -> bytes:
    """An endless animated PNG of equally large pictures, `rate` a second.

    Viewers without animation show the first picture. Raises ValueError for no picture or another size.
    """
    from PIL import Image

    if not pictures or any(picture.shape != pictures[0].shape for picture in pictures):
        raise ValueError("an animation takes one or more pictures of one size")
    stream = io.BytesIO()
    first, *rest = (Image.fromarray(picture) for picture in pictures)
    first.save(stream, "PNG", save_all=True, append_images=rest, duration=1000.0 / rate, loop=0)
    return stream.getvalue()


def read_picture(path: Path) -> Picture:
    """An image file as (h, w, 3) uint8, transparency laid on grey. Raises MeshqcError naming file and cause."""
    from PIL import Image

    try:
        with Image.open(path) as image:
            colours = np.asarray(image.convert("RGBA"), float)
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError) as error:
        raise MeshqcError(f"{Name.from_path(path)}: not a picture that can be read: {safe(str(error))}") from error
    opacity = colours[..., 3:] / 255.0
    return np.asarray(np.rint(colours[..., :3] * opacity + 128.0 * (1.0 - opacity)), np.uint8)
