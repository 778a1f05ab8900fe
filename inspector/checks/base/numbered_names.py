"""Material names that end in a number. Programs add the number to a name that is already taken."""

from __future__ import annotations

import re

from inspector.names import Name

_NUMBER = re.compile(rb"[._ -]?\d+\Z")


def name_stem(name: Name) -> bytes:
    """The name without its number: `skin` for `skin`, `skin.001` and `skin2`.

    A name that is only a number is unchanged.
    """
    return _NUMBER.sub(b"", name.raw) or name.raw
