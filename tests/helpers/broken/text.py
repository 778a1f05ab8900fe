"""Meshes and sequences with wrong text."""

from __future__ import annotations

import re

from tests.helpers.one_thing import TEXT
from tests.helpers.sequences import shot

LINE = 4  # the second vertex, after two lines above the vertices
SECOND = TEXT.split(b"\n")[LINE - 1]


def from_zero(text: bytes) -> bytes:
    return re.sub(
        rb"(?<=[ /])[0-9]+(?=[ /\n])", lambda match: b"%d" % (int(match[0]) - 1), text[text.index(b"\nf") :]
    ).join([text[: text.index(b"\nf")], b""])


NAME = "manta.0004.obj"
GOOD = shot()[NAME]
FIRST = GOOD[GOOD.index(b"\nf ") + 1 :].split(b"\n")[0]


def mixed(data: bytes) -> bytes:
    return data.replace(b"\n", b"\r\n", 5)


def superseded(data: bytes) -> bytes:
    return data.replace(b"\nf ", b"\nfo ")


def slashes(data: bytes) -> bytes:
    return data.replace(FIRST, FIRST.replace(b" ", b"/ ").replace(b"f/", b"f") + b"/")
