"""Names of materials with a number at their end, as programs add it to a name that is taken."""

from __future__ import annotations

import re

from inspector.names import Name

_NUMBER = re.compile(rb"[._ -]?\d+\Z")


def name_stem(name: Name) -> bytes:
    """`skin` for `skin`, `skin.001` and `skin2`; a name that is a number alone stays."""
    return _NUMBER.sub(b"", name.raw) or name.raw
