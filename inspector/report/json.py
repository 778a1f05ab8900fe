"""Documents as JSON text (RFC 8259)."""

from __future__ import annotations

import json
from collections.abc import Mapping


def json_text(document: Mapping[str, object]) -> str:
    """The document on one line of ASCII, with a line end: undecodable bytes of names stay as surrogate escapes.

    Raises ValueError for a number that JSON can't hold.
    """
    return json.dumps(document, ensure_ascii=True, allow_nan=False) + "\n"
