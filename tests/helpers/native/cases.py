"""Random cases for the native core: meshes, and text blocks with intact or broken lines of numbers or faces."""

from __future__ import annotations

import random
import struct
from dataclasses import dataclass
from decimal import Decimal, localcontext

import numpy as np
import numpy.typing as npt

BLANKS = (" ", " ", " ", " ", "  ", "\t", " \t ")
ENDS = ("\n", "\n", "\n", "\n", "\r\n", " \n")
JUNK = (
    "nan",
    "inf",
    "-",
    "+",
    ".",
    "1e",
    "1.5e+",
    "1,5",
    "0x10",
    "1_0",
    "1e999",
    "1e123456789",
    "--1",
    "1.2.3",
    "#",
    "",
)
KEYWORDS = (b"v", b"v", b"vn", b"vt")


def number(rng: random.Random) -> str:
    """Return a number as text, in a form that writers use or that is hard to round."""
    form = rng.randrange(9)
    if form < 3:
        return f"{rng.uniform(-10, 10):.{rng.randrange(9)}f}"
    if form == 3:
        return f"{rng.uniform(-10, 10):.{rng.randrange(15, 25)}{rng.choice('eEfg')}}"
    if form == 4:
        return repr(_of_bits(rng.getrandbits(64))).replace("nan", "7").replace("inf", "8")
    if form == 5:
        return f"{10 ** rng.uniform(-75, 75):.{rng.randrange(20)}e}"
    if form == 6:
        return _half_way(rng)
    if form == 7:
        return str(2 ** rng.randrange(50, 70) + rng.randrange(-3, 4))
    whole, fraction = ("".join(rng.choices("0123456789", k=rng.randrange(12))) for _ in range(2))
    return rng.choice(("", "-", "+")) + (whole or "0") + rng.choice(("", ".", "." + fraction))


def _of_bits(bits: int) -> float:
    value: float = struct.unpack("<d", bits.to_bytes(8, "little"))[0]
    return value


def _half_way(rng: random.Random) -> str:
    low = _of_bits(rng.getrandbits(52) | (1023 + rng.randrange(-60, 60)) << 52)
    with localcontext() as context:
        context.prec = 800
        middle = (Decimal(low) + Decimal(float(np.nextafter(low, np.inf)))) / 2
        return format(middle, "f")[: rng.choice((17, 18, 19, 20, 21, 800))]


def number_block(rng: random.Random) -> tuple[bytes, bytes]:
    """Return a keyword, and lines that begin with it. Most lines have the same form, but sometimes a line or byte
    differs."""
    keyword = rng.choice(KEYWORDS)
    columns = rng.choice((1, 2, 3, 3, 3, 3, 4, 6, 7))
    lines = []
    for _ in range(rng.randrange(1, 40)):
        count = columns if rng.random() < 0.98 else rng.randrange(9)
        tokens = [number(rng) if rng.random() < 0.998 else rng.choice(JUNK) for _ in range(count)]
        lines.append(_line(rng, keyword, tokens))
    return keyword, _spoilt(rng, "".join(lines).encode())


def face_block(rng: random.Random) -> bytes:
    """Return lines of faces. Most lines have the same form, but sometimes a line, a corner or a byte differs."""
    form = rng.choice(("{}", "{}/{}", "{}//{}", "{}/{}/{}"))
    lines = []
    for _ in range(rng.randrange(1, 40)):
        size = rng.choice((3, 4, 4, 4, 5, 6)) if rng.random() < 0.98 else rng.randrange(3)
        of_line = (
            form if rng.random() < 0.98 else rng.choice(("{}", "{}/{}", "{}//{}", "{}/", "{}/{}/", "/{}", "{}/{}/{}/1"))
        )
        lines.append(_line(rng, b"f", [of_line.format(*(_index(rng) for _ in range(3))) for _ in range(size)]))
    if rng.random() < 0.02:
        lines.append(_line(rng, b"f", [form.format(*(_index(rng) for _ in range(3))) for _ in range(300)]))
    return _spoilt(rng, "".join(lines).encode())


def _index(rng: random.Random) -> str:
    if rng.random() < 0.01:
        return rng.choice(("0", "-0", "+3", "007", "2147483647", "2147483648", "999999999", "1" * 25, "x", "1.0"))
    return str(rng.randrange(1, 10 ** rng.randrange(1, 8)) * (-1 if rng.random() < 0.05 else 1))


def _line(rng: random.Random, keyword: bytes, tokens: list[str]) -> str:
    if rng.random() < 0.01:
        return rng.choice(("\n", " \t\n", f"{keyword.decode()}\n", "# a comment\n", f"{keyword.decode()} 1 # 2\n"))
    lead = "" if rng.random() < 0.95 else rng.choice(BLANKS)
    return lead + keyword.decode() + "".join(rng.choice(BLANKS) + token for token in tokens) + rng.choice(ENDS)


def _spoilt(rng: random.Random, text: bytes) -> bytes:
    data = bytearray(text)
    if rng.random() < 0.3:
        for _ in range(rng.randrange(1, 4)):
            data[rng.randrange(len(data))] = rng.choice(b" \t\n\r0123456789+-.eE/#fv\0\xff")
    if rng.random() < 0.2:
        del data[rng.randrange(len(data)) :]
    return bytes(data)


@dataclass(frozen=True)
class Mesh:
    """A mesh.

    Attributes:
        positions: Positions of the vertices, (n, 3).
        normals: Normals, (n, 3).
        offsets: The index of each face's first corner, followed by the total number of corners, (f + 1,).
        v: The vertex of each corner, (c,); -1 if the corner has none.
        vn: The normal of each corner, (c,); -1 if the corner has none.
    """

    positions: npt.NDArray[np.float64]
    normals: npt.NDArray[np.float64]
    offsets: npt.NDArray[np.int64]
    v: npt.NDArray[np.int32]
    vn: npt.NDArray[np.int32]


def mesh(rng: random.Random) -> Mesh:
    """Return a random mesh with few vertices. Many faces use a vertex twice, have no area, are concave or are far from
    planar."""
    random_numbers = np.random.default_rng(rng.getrandbits(32))
    count = rng.randrange(1, 30)
    positions = random_numbers.normal(size=(count, 3)) * 10.0 ** rng.randrange(-3, 4)
    if rng.random() < 0.5:
        positions = np.round(positions)  # many positions are equal
    if rng.random() < 0.1:
        positions[rng.randrange(count), rng.randrange(3)] = rng.choice((np.nan, np.inf, -np.inf, 1e300, 1e-300))
    sizes = random_numbers.choice([0, 1, 2, 3, 3, 4, 4, 4, 4, 5, 6, 12], size=rng.randrange(40))
    offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    v, vn = (
        random_numbers.integers(-1 if rng.random() < 0.3 else 0, count, offsets[-1]).astype(np.int32) for _ in "ab"
    )
    return Mesh(positions, random_numbers.normal(size=(count, 3)), offsets, v, vn)
