"""Good frames, and random changes that break them."""

from __future__ import annotations

import random
from collections.abc import Callable

from tests.helpers.meshes import torus, wing

NASTY_NUMBERS = (
    *(b"nan", b"inf", b"-inf", b"1e400", b"-1e400", b"1e-400", b"-0", b"-0.0", b"1.#IND", b"-1.#QNAN", b"1d0", b"0x10"),
    *(
        b"1.2.3",
        b"1e",
        b"1_000",
        b"0,5",
        b"+.5",
        b"5.",
        b".",
        b"-",
        b"+",
        b"1e308",
        b"4.9e-324",
        b"2.2250738585072011e-308",
    ),
    *(b"9007199254740993", b"0.1234567890123456789012345", b"1" * 400, b"0." + b"0" * 400 + b"1", b"1e+", b"--1"),
)
NASTY_CORNERS = (
    *(b"0", b"-1", b"-999", b"1/", b"1//", b"1/1/", b"1//1", b"/1", b"1/2/3/4", b"2147483648", b"-2147483649"),
    *(b"18446744073709551617", b"9" * 40, b"1.5", b"a", b"1/a", b"+1", b"1/-1/-1", b"007", b"#", b"1#2"),
)
NASTY_WORDS = (
    *(
        b"call other.obj",
        b"csh rm",
        b"usemtl",
        b"usemtl a#b",
        b"mtllib ../../x.mtl",
        b"o \x1b[2J",
        b"g \xe2\x80\xae",
        b"fo 1 2 3",
    ),
    *(
        b"vt",
        b"v",
        b"f",
        b"f 1 2",
        b"vn 0 0",
        b"vt 1 2 3 4",
        b"v 1 2 3 4 5 6 7 8",
        b"s off",
        b"l 1 2",
        b"# \\",
        b"v 1 2 \\",
    ),
    *(b"\\", b"", b"\x85", b"\xff\xfe", b"p 1", b"bogus 1 2", b"  v\t1 2 3", b"f\t1 2 3 # tail", b"v 0 0 0 # tail"),
)
BYTES = b"\n\r\t #/\\-+.,eE0123456789vnftg\x00\x85\xff"


def good_frames() -> tuple[bytes, ...]:
    """Return frames that are read without a problem, in the variants that exporters write."""
    sheet = wing(3)
    text = sheet.text()
    return (
        text,
        torus(7, 5).text(),
        sheet.text(decimals=17),
        text.replace(b"\n", b"\r\n"),
        text.replace(b" ", b"  "),
        b"\xef\xbb\xbf# manta\n" + text + b"usemtl eye\nf 1 2 7\ng tail\nf -1 -2 -3\n",
    )


def mutated(data: bytes, chance: random.Random) -> bytes:
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 5, 8))):
        data = chance.choice(_WAYS)(data, chance)
    return data


def _flip(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) or 1)
    return data[:at] + bytes([chance.randrange(256)]) + data[at + 1 :]


def _put(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + bytes([chance.choice(BYTES)]) + data[at:]


def _cut(data: bytes, chance: random.Random) -> bytes:
    at = chance.randrange(len(data) + 1)
    return data[:at] + data[at + chance.randrange(1, 60) :]


def _end_early(data: bytes, chance: random.Random) -> bytes:
    return data[: chance.randrange(len(data) + 1)]


def _lines(change: Callable[[list[bytes], random.Random], None]) -> Callable[[bytes, random.Random], bytes]:
    def way(data: bytes, chance: random.Random) -> bytes:
        lines = data.split(b"\n")
        change(lines, chance)
        return b"\n".join(lines)

    return way


def _double(lines: list[bytes], chance: random.Random) -> None:
    at = chance.randrange(len(lines))
    lines[at:at] = lines[at : at + chance.randrange(1, 4)]


def _swap(lines: list[bytes], chance: random.Random) -> None:
    a, b = chance.randrange(len(lines)), chance.randrange(len(lines))
    lines[a], lines[b] = lines[b], lines[a]


def _shuffle(lines: list[bytes], chance: random.Random) -> None:
    start = chance.randrange(len(lines))
    some = lines[start : start + 12]
    chance.shuffle(some)
    lines[start : start + 12] = some


def _put_words(lines: list[bytes], chance: random.Random) -> None:
    lines.insert(chance.randrange(len(lines) + 1), chance.choice(NASTY_WORDS))


def _nasty(lines: list[bytes], chance: random.Random) -> None:
    at = chance.randrange(len(lines))
    words = lines[at].split(b" ")
    if len(words) > 1:
        words[chance.randrange(1, len(words))] = chance.choice(NASTY_CORNERS if words[0] == b"f" else NASTY_NUMBERS)
        lines[at] = b" ".join(words)


_WAYS = (_flip, _put, _cut, _end_early, *map(_lines, (_double, _swap, _shuffle, _put_words, _nasty, _nasty)))
