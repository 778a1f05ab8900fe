"""Write animated PNG, WebP and GIF files picture by picture, so that only a few pictures are in memory at a time.

Pillow compresses each picture as a separate file, whose compressed pixels are copied into the animation: PNG (ISO/IEC
15948, third edition, 11.3.6), WebP (RFC 9649, section 2.7) or GIF89a. All animations repeat endlessly. After the first
picture, only the rectangle that contains the changes is compressed.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from fractions import Fraction
from itertools import chain

from inspector.picture.canvas import Picture

_PNG = b"\x89PNG\r\n\x1a\n"
_QUICK = {"method": 3, "quality": 10}
"""Effort settings of the WebP encoder: of the fast settings, those that give the smallest files (measured on two demo
sequences). With method 0, files are three times as large.
"""

_AHEAD = 4
"""Maximum number of pictures that wait to be compressed. This many pictures keep a few cores busy and need little
memory."""

_MOST = 65_535
"""Largest unsigned 16-bit number."""


def animated_png(pictures: Iterable[Picture], rate: Fraction) -> bytes:
    """Make an animated PNG.

    Args:
        pictures: One or more pictures, (h, w, 3), all of the same size.
        rate: Pictures per second.
    """
    delay = _small(1 / rate)
    stream = io.BytesIO(_PNG)
    stream.seek(0, io.SEEK_END)
    count = order = 0
    for left, top, picture, file in _compressed(pictures, "PNG"):
        chunks = list(_png_chunks(file))
        data = b"".join(body for kind, body in chunks if kind == b"IDAT")
        if count == 0:
            stream.write(_png_chunk(*chunks[0]))
            place = stream.tell()
            stream.write(_png_chunk(b"acTL", bytes(8)))
        size = picture.shape[1], picture.shape[0]
        control = struct.pack(">IIIIIHHBB", order, *size, left, top, delay.numerator, delay.denominator, 0, 0)
        stream.write(_png_chunk(b"fcTL", control))
        order += 1
        if count == 0:
            stream.write(_png_chunk(b"IDAT", data))
        else:
            stream.write(_png_chunk(b"fdAT", struct.pack(">I", order) + data))
            order += 1
        count += 1
    stream.write(_png_chunk(b"IEND", b""))
    stream.seek(place)
    stream.write(_png_chunk(b"acTL", struct.pack(">II", count, 0)))
    return stream.getvalue()


def animated_webp(pictures: Iterable[Picture], rate: Fraction) -> bytes:
    """Make an animated WebP with lossless compression.

    Args:
        pictures: One or more pictures, (h, w, 3), all of the same size.
        rate: Pictures per second.
    """
    stream = io.BytesIO()
    stream.write(b"RIFF\0\0\0\0WEBP")
    shown = zip(_compressed(pictures, "WEBP", lossless=True, **_QUICK), _durations(rate, 1000), strict=False)
    for number, ((left, top, picture, file), duration) in enumerate(shown):
        size = _three(picture.shape[1] - 1) + _three(picture.shape[0] - 1)
        if number == 0:
            stream.write(_riff_chunk(b"VP8X", b"\x02\0\0\0" + size))  # an animation, no transparency
            stream.write(_riff_chunk(b"ANIM", bytes(6)))  # a background colour that is never visible; endless
        bits = file[12:]
        place = _three(left // 2) + _three(top // 2)
        stream.write(_riff_chunk(b"ANMF", place + size + _three(duration) + b"\x02" + bits))  # not blended
    length = stream.tell() - 8
    stream.seek(4)
    stream.write(struct.pack("<I", length))
    return stream.getvalue()


def animated_gif(pictures: Iterable[Picture], rate: Fraction) -> bytes:
    """Make an animated GIF. Each picture has its own table of up to 256 colours.

    Args:
        pictures: One or more pictures, (h, w, 3), all of the same size.
        rate: Pictures per second.
    """
    rest = iter(pictures)
    first = next(rest)
    stream = io.BytesIO()
    stream.write(b"GIF89a" + struct.pack("<HHBBB", first.shape[1], first.shape[0], 0, 0, 0))
    stream.write(b"\x21\xff\x0bNETSCAPE2.0\x03\x01\0\0\0")  # the common extension for endless repetition
    changes = _compressed(chain([first], rest), "GIF", interlace=False)
    for (left, top, picture, file), duration in zip(changes, _durations(rate, 100), strict=False):
        table, depth, data = _gif_parts(file)
        stream.write(b"\x21\xf9\x04\x04" + struct.pack("<HBB", duration, 0, 0))  # it stays until the next picture
        stream.write(b"\x2c" + struct.pack("<HHHHB", left, top, picture.shape[1], picture.shape[0], 0x80 | depth))
        stream.write(table + data)
    stream.write(b"\x3b")
    return stream.getvalue()


ANIMATED: dict[str, Callable[[Iterable[Picture], Fraction], bytes]] = {
    ".png": animated_png,
    ".gif": animated_gif,
    ".webp": animated_webp,
}
"""Function that makes an animation, by file name extension."""


def _changes(pictures: Iterable[Picture]) -> Iterator[tuple[int, int, Picture]]:
    """Yield the first picture and then, for each later picture, the rectangle that contains its changes.

    Yields:
        Left column, top row (even numbers, as WebP requires) and pixels of the rectangle; the upper left pixel if
        nothing has changed.
    """
    before: Picture | None = None
    for picture in pictures:
        if before is None:
            yield 0, 0, picture
        else:
            changed = (picture != before).reshape(len(picture), -1)
            rows = changed.any(axis=1).nonzero()[0]
            columns = changed.any(axis=0).nonzero()[0] // 3
            if len(rows):
                left, top = int(columns[0]) // 2 * 2, int(rows[0]) // 2 * 2
                yield left, top, picture[top : rows[-1] + 1, left : columns[-1] + 1]
            else:
                yield 0, 0, picture[:1, :1]  # the formats have no picture without pixels
        before = picture


def _compressed(pictures: Iterable[Picture], form: str, **how: int) -> Iterator[tuple[int, int, Picture, bytes]]:
    """Compress the pixels of each rectangle from `_changes` as a separate file, in other threads.

    Args:
        pictures: The pictures, in order.
        form: File format, as Pillow names it.
        **how: Options of Pillow's encoder.

    Yields:
        Left column, top row and pixels of each rectangle, and the content of its file.
    """
    with ThreadPoolExecutor() as pool:
        begun: deque[tuple[int, int, Picture, Future[bytes]]] = deque()
        for left, top, picture in _changes(pictures):
            begun.append((left, top, picture, _begun(pool, picture, form, **how)))
            if len(begun) > _AHEAD:
                yield _ended(*begun.popleft())
        while begun:
            yield _ended(*begun.popleft())


def _begun(pool: ThreadPoolExecutor, picture: Picture, form: str, **how: int) -> Future[bytes]:
    try:
        return pool.submit(_alone, picture, form, **how)
    except RuntimeError:  # no more threads can be started: compress in this thread
        here: Future[bytes] = Future()
        here.set_result(_alone(picture, form, **how))
        return here


def _ended(left: int, top: int, picture: Picture, file: Future[bytes]) -> tuple[int, int, Picture, bytes]:
    return left, top, picture, file.result()


def _alone(picture: Picture, form: str, **how: int) -> bytes:
    from PIL import Image

    stream = io.BytesIO()
    Image.fromarray(picture).save(stream, form, **how)
    return stream.getvalue()


def _small(value: Fraction) -> Fraction:
    """Round a fraction so that its numerator and denominator each fit in two bytes."""
    near = value.limit_denominator(_MOST)
    return near if near.numerator <= _MOST else Fraction(min(round(value), _MOST))


def _durations(rate: Fraction, unit: int) -> Iterator[int]:
    """Yield the duration of each picture in whole units of 1/`unit` s. Rounding errors don't accumulate."""
    shown, number = 0, 0
    while True:
        number += 1
        end = round(number * unit / rate)
        yield end - shown
        shown = end


def _png_chunks(data: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Yield the type and the data of each chunk of a PNG."""
    place = len(_PNG)
    while place < len(data):
        (length,) = struct.unpack_from(">I", data, place)
        yield data[place + 4 : place + 8], data[place + 8 : place + 8 + length]
        place += 12 + length


def _png_chunk(kind: bytes, body: bytes) -> bytes:
    return struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))


def _riff_chunk(kind: bytes, body: bytes) -> bytes:
    return kind + struct.pack("<I", len(body)) + body + bytes(len(body) % 2)


def _three(number: int) -> bytes:
    return number.to_bytes(3, "little")


def _gif_parts(data: bytes) -> tuple[bytes, int, bytes]:
    """Split a GIF of one picture into the parts that an animation needs.

    Returns:
        The colour table; its size as stored (the binary logarithm of the number of colours, minus 1); and the
        compressed picture.
    """
    depth = data[10] & 7
    after = 13 + (3 << depth + 1 if data[10] & 0x80 else 0)
    table, place = data[13:after], after
    while data[place] == 0x21:  # an extension: its label, then blocks with their lengths, the last block empty
        place += 2
        while data[place]:
            place += 1 + data[place]
        place += 1
    flags = data[place + 9]
    place += 10
    if flags & 0x80:
        depth = flags & 7
        table, place = data[place : place + (3 << depth + 1)], place + (3 << depth + 1)
    return table, depth, data[place:-1]
