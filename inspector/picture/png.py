"""Pictures to PNG bytes (ISO/IEC 15948)."""

from __future__ import annotations

import io

from inspector.picture.canvas import Picture


def png_bytes(picture: Picture) -> bytes:
    """An 8-bit PNG of (h, w, 3), or with alpha of (h, w, 4)."""
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, "PNG")
    return stream.getvalue()
