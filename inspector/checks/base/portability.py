"""Find file names that other systems and readers may not accept."""

from __future__ import annotations

import re

# Characters and names that common systems reserve (from memory, no source).
_RESERVED = re.compile(rb'[<>:"|?*\x00-\x1f]|[. ](?:/|\Z)')
_DEVICE = re.compile(rb"(?:\A|/)(?:con|prn|aux|nul|com[1-9]|lpt[1-9])(?:\.[^/]*)?(?:/|\Z)", re.IGNORECASE)
_UPWARD = re.compile(rb"(\A|(?<=/))\.\.?(?=/)")


def unportable(raw: bytes, is_library: bool) -> str | None:
    """Return the first reason why a path (with `/` as the separator) is not portable; None if the path is portable.

    Args:
        raw: The path as written.
        is_library: Whether the path is in a statement that names material libraries. Readers split such a statement at
            spaces.

    Returns:
        "reserved" (characters or names that some systems don't allow), "blanks in a library" or "blanks" (spaces or
        tabs), or "beyond ASCII".
    """
    plain = _UPWARD.sub(b"", raw)
    if _RESERVED.search(plain) or _DEVICE.search(plain):
        return "reserved"
    if b" " in raw or b"\t" in raw:
        return "blanks in a library" if is_library else "blanks"
    return None if raw.isascii() else "beyond ASCII"
