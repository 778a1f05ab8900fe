"""Pictures to PNG bytes (ISO/IEC 15948; animations: the APNG chunks of its third edition, 2025)."""

from __future__ import annotations

import io
from collections.abc import Sequence

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
