"""Recognise material names to which a program appended a number because the name was already in use."""

from __future__ import annotations

import re

from inspector.names import Name

_NUMBER = re.compile(rb"[._ -]?\d+\Z")


def name_stem(name: Name) -> bytes:
    """Return the name without the number at its end: `skin` for `skin`, `skin.001` and `skin2`.

    A name that is only a number is returned unchanged.
    """
    return _NUMBER.sub(b"", name.raw) or name.raw
