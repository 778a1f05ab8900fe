"""Pictures as PNG (ISO/IEC 15948) and PDF (ISO 32000-1)."""

from __future__ import annotations

import io
import time
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from inspector.picture.canvas import Picture


def png_bytes(picture: Picture) -> bytes:
    """Encode (h, w, 3), or with opacity (h, w, 4), as an 8-bit PNG."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "PNG")
    return stream.getvalue()


def texture_png(pixels: npt.NDArray[np.uint8], profile: bytes = b"") -> bytes:
    """Encode a texture as PNG, without opacity if every pixel is opaque.

    Args:
        pixels: (h, w, 4), red, green, blue and opacity.
        profile: ICC profile of its colours; empty for none.
    """
    from PIL import Image

    opaque = bool((pixels[..., 3] == 255).all())
    stream = io.BytesIO()
    Image.fromarray(pixels[..., :3] if opaque else pixels).save(stream, "PNG", icc_profile=profile or None)
    return stream.getvalue()


_A4 = 297.0 / 25.4
"""Longer side of A4 in inches (ISO 216)."""

_EPOCH = 315_532_800
"""Date of a PDF, 1980-01-01 in seconds since 1970, so that the same pictures give the same bytes."""


def pdf_bytes(pages: Sequence[Picture]) -> bytes:
    """Make a PDF of pictures (h, w, 3), one per page. The first is as wide as A4 in landscape."""
    from PIL import Image

    first, *rest = (Image.fromarray(page) for page in pages)
    stream = io.BytesIO()
    first.save(
        stream,
        "PDF",
        save_all=True,
        append_images=rest,
        resolution=first.width / _A4,
        quality=92,
        creationDate=time.gmtime(_EPOCH),
        modDate=time.gmtime(_EPOCH),
    )
    return stream.getvalue()
