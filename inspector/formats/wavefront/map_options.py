"""The statements of a material library that name a texture, and their options (MTL File Formats 4.2, 1995)."""

from __future__ import annotations

import re
from dataclasses import dataclass

MAP_STATEMENTS = frozenset(
    b"map_ka map_kd map_ks map_ns map_d decal disp bump refl map_bump norm map_pr map_pm map_ps map_ke".split()
)
"""Statements, in lower case, that name a texture. From `map_bump` on, they are later extensions (common practice, no
source)."""

FURTHER_MAPS = {
    b"map_pc": "clearcoat thickness",
    b"map_pcr": "clearcoat roughness",
    b"map_aniso": "anisotropy",
    b"map_anisor": "direction of anisotropy",
    b"map_orm": "occlusion, roughness and metallic in one texture",
    b"map_rma": "roughness, metallic and occlusion in one texture",
    b"map_ao": "occlusion",
    b"map_opacity": "opacity; the format defines `map_d`",
    b"map_tr": "transparency; the format defines `map_d`",
    b"map_norm": "normals; most readers expect `norm`",
    b"map_normal": "normals; most readers expect `norm`",
    b"map_kn": "normals; most readers expect `norm`",
    b"map_refl": "reflection; the format defines `refl`",
    b"map_disp": "displacement; the format defines `disp`",
    b"map_tf": "transmission colour",
    b"map_ni": "refraction",
}
"""Further map statements, in lower case, that some writers add, and the content of the texture that each statement
names (common practice, no source).
"""

_SWITCHES = frozenset((b"map_aat",))
"""Statements that begin with `map_` but don't name a file (MTL File Formats 4.2, 1995)."""

_FILE = re.compile(rb".*(?:\.[A-Za-z][A-Za-z0-9]{1,4}|<udim>|<uvtile>)[\"']?", re.IGNORECASE)
"""Text that looks like a file name: it ends with a placeholder for UV tiles, or with an extension that begins with a
letter. A quotation mark may follow.
"""
_AFTER_NAME = re.compile(rb"(.*?\.[A-Za-z][A-Za-z0-9]{1,4}[\"']?)[ \t\x0b\x0c]+([#-].*)")

_FIXED = {
    **dict.fromkeys(b"-blendu -blendv -clamp -cc -bm -boost -texres -imfchan -type -colorspace".split(), 1),
    b"-mm": 2,
}
"""The number of words after each option. `-colorspace` is a later extension (common practice, no source)."""
_UP_TO_THREE_NUMBERS = frozenset((b"-o", b"-s", b"-t"))

_TOKEN = re.compile(rb"[^ \t\x0b\x0c]+")
_NUMBER = re.compile(rb"[-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?")


@dataclass(frozen=True, slots=True)
class AfterName:
    """Misplaced text after the file name of a map.

    Attributes:
        options: The options, word by word.
        comment: The comment, with its `#`; b"" if there is none.
    """

    options: tuple[bytes, ...] = ()
    comment: bytes = b""

    def __bool__(self) -> bool:
        return bool(self.options or self.comment)


def names_a_file(keyword: bytes, rest: bytes) -> bool:
    """Return whether a statement names a texture. An unknown `map_...` statement counts as naming a texture if its
    value looks like a file name.

    Args:
        keyword: The keyword in lower case.
        rest: The text after the keyword.
    """
    if keyword in MAP_STATEMENTS or keyword in FURTHER_MAPS:
        return True
    if not keyword.startswith(b"map_") or keyword in _SWITCHES:
        return False
    _, start = split_options(rest)
    return _FILE.fullmatch(split_after(rest[start:])[0]) is not None


def split_after(name: bytes) -> tuple[bytes, AfterName]:
    """Split a file name from the misplaced options and the comment after it. Options and comments are recognised only
    if they follow a file name extension.
    """
    match = _AFTER_NAME.fullmatch(name)
    if match is None:
        return name, AfterName()
    words, mark, comment = match[2].partition(b"#")
    tokens = words.split()
    at = 0
    while at < len(tokens):
        taken = _taken(tokens[at : at + 4], len(tokens) - at)
        if not taken:
            return name, AfterName()
        at += taken
    return match[1], AfterName(tuple(tokens), mark + comment)


def split_options(rest: bytes) -> tuple[tuple[bytes, ...], int]:
    """Split the text after the keyword of a map into options and a file name.

    The name starts at the first word that is neither an option nor an argument of an option. If there is no such word,
    the name starts at the last word. The name extends to the end of the line.

    Returns:
        The words of the options, and the index in `rest` at which the name starts.
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
    """Count the words of the option that begins at the first word. Return 0 if the first word isn't an option.

    Args:
        tokens: At least one word. Four words are enough for any option.
        spare: Maximum number of words that the option may take.
    """
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
    """Return whether a word is a decimal number."""
    return _NUMBER.fullmatch(token) is not None
