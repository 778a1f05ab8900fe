"""Wavefront OBJ, read and written by formats/wavefront, which keeps every byte.

Source: the OBJ format document ("Appendix B1", version 3.0).
"""

from __future__ import annotations

import re

from inspector.formats.format import Format, Trait

_STATEMENT = re.compile(rb"^[ \t]*(?:v|vt|vn|f|o|g|s|usemtl|mtllib)[ \t]+[^\r\n]", re.MULTILINE)


def _recognises(head: bytes, _: int) -> bool:
    return b"\0" not in head and _STATEMENT.search(head.replace(b"\r", b"\n")) is not None


FORMATS = (Format("obj", "OBJ", (b".obj",), frozenset(Trait), _recognises, read=None),)
