"""The options that stand between a map statement and its file name (MTL File Formats 4.2, 1995)."""

from __future__ import annotations

import re

MAP_STATEMENTS = frozenset(
    b"map_ka map_kd map_ks map_ns map_d decal disp bump refl map_bump norm map_pr map_pm map_ps map_ke".split()
)
"""Statements that name an image, in lower case. The last five are later extensions (common practice, no source)."""

_FIXED = {
    **dict.fromkeys(b"-blendu -blendv -clamp -cc -bm -boost -texres -imfchan -type".split(), 1),
    b"-mm": 2,
}
_UP_TO_THREE_NUMBERS = frozenset((b"-o", b"-s", b"-t"))

_TOKEN = re.compile(rb"[^ \t\x0b\x0c]+")
_NUMBER = re.compile(rb"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


def split_options(rest: bytes) -> tuple[tuple[bytes, ...], int]:
    """What follows a map's keyword, split: the tokens of its options, and where in `rest` the file name starts.

    The name is the rest of the line, blanks included; one token is always left for it. An option that the document
    doesn't know is taken for the start of the name.
    """
    tokens = list(_TOKEN.finditer(rest))
    at = 0
    while at < len(tokens) - 1:
        taken = _taken([token.group() for token in tokens[at : at + 4]], len(tokens) - at - 1)
        if not taken:
            break
        at += taken
    start = tokens[at].start() if tokens else len(rest)
    return tuple(token.group() for token in tokens[:at]), start


def _taken(tokens: list[bytes], spare: int) -> int:
    """How many tokens the option at the head takes, itself included; 0 if it is none. `spare`: one less than all."""
    option = tokens[0].lower()
    if option in _FIXED:
        return min(1 + _FIXED[option], spare)
    if option not in _UP_TO_THREE_NUMBERS:
        return 0
    count = 1
    while count < min(len(tokens), spare) and _NUMBER.fullmatch(tokens[count]):
        count += 1
    return count


def is_number(token: bytes) -> bool:
    """Whether the token is a decimal number."""
    return _NUMBER.fullmatch(token) is not None
