"""Encode pictures as PNG (ISO/IEC 15948) and PDF (ISO 32000-1)."""

from __future__ import annotations

import io
import time
from collections.abc import Sequence

import numpy as np
import numpy.typing as npt

from inspector.picture.canvas import Picture


def png_bytes(picture: Picture) -> bytes:
    """Encode a picture, (h, w, 3), or (h, w, 4) with an alpha channel, as an 8-bit PNG."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "PNG")
    return stream.getvalue()


def texture_png(pixels: npt.NDArray[np.uint8], profile: bytes = b"") -> bytes:
    """Encode a texture, (h, w, 4), as PNG, without the alpha channel if every pixel is opaque. An ICC profile is
    included unless `profile` is empty."""
    from PIL import Image

    opaque = bool((pixels[..., 3] == 255).all())
    stream = io.BytesIO()
    Image.fromarray(pixels[..., :3] if opaque else pixels).save(stream, "PNG", icc_profile=profile or None)
    return stream.getvalue()


_A4 = 297.0 / 25.4
"""Longer side of A4 in inches (ISO 216)."""

_MARGIN = 0.03
"""Minimum white margin on a page: left and right as a fraction of the page's width (9 mm), above and below as a
fraction of its height (6 mm)."""

_EPOCH = 315_532_800
"""Date in every PDF, 1980-01-01, in seconds since 1970."""


def pdf_bytes(pages: Sequence[Picture]) -> bytes:
    """Make a PDF with one picture, (h, w, 3), per page, centred on A4 in landscape.

    All pictures have the same scale, at which the largest picture fills its page.
    """
    from PIL import Image

    wide = max(max(page.shape[1], page.shape[0] * 2**0.5) for page in pages) / (1.0 - 2.0 * _MARGIN)
    size = round(wide), round(wide / 2**0.5)
    sheets = []
    for page in pages:
        sheet = Image.new("RGB", size, "white")
        sheet.paste(Image.fromarray(page), ((size[0] - page.shape[1]) // 2, (size[1] - page.shape[0]) // 2))
        sheets.append(sheet)
    stream = io.BytesIO()
    sheets[0].save(
        stream,
        "PDF",
        save_all=True,
        append_images=sheets[1:],
        resolution=size[0] / _A4,
        quality=92,
        creationDate=time.gmtime(_EPOCH),
        modDate=time.gmtime(_EPOCH),
    )
    return stream.getvalue()
