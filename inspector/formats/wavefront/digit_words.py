"""Read many short runs of ASCII digits with array operations.

Eight bytes of text form one uint64, called a word, with the first character in the lowest byte.
"""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.arrays import Flags

Bytes = npt.NDArray[np.uint8]
Positions = npt.NDArray[np.int64]
Words = npt.NDArray[np.uint64]

MARGIN = 32
"""Minimum number of spaces before and after a padded text. They allow whole words to be loaded at any position of the
text."""

PIECE = 1 << 18  # bytes to examine in one batch, so that their flags stay in the processor's cache
_WORD = np.dtype("<u8")
_WORD_BITS = np.uint64(64)
# If one byte of a word is 1 and the others are 0, the top byte of the product is the index of that byte (0 to 7).
_BYTE_NUMBER = np.uint64(0x0001020304050607)
# Multiplying by 10^m * 256^m + 1 joins neighbouring digits (m = 1), then pairs (m = 2), then groups of four (m = 4).
_JOINS = tuple(
    (np.uint64(mask), np.uint64(10**m * 256**m + 1), np.uint64(8 * m))
    for m, mask in ((1, 0x0F0F0F0F0F0F0F0F), (2, 0x00FF00FF00FF00FF), (4, 0x0000FFFF0000FFFF))
)


def padded(text: bytes) -> Bytes:
    """Pad a text with MARGIN spaces before it and at least MARGIN spaces after it.

    Returns:
        The bytes, (n,) uint8, where n is a multiple of 8.
    """
    filled = MARGIN + len(text)
    out = np.empty(-(-filled // 8) * 8 + MARGIN, np.uint8)
    out[:MARGIN] = ord(" ")
    out[MARGIN:filled] = np.frombuffer(text, np.uint8)
    out[filled:] = ord(" ")
    return out


def positions(flags: Flags) -> Positions:
    """Find the flags that are set. This is fast if no aligned group of 8 flags has more than one set flag; otherwise,
    np.flatnonzero is used.

    Args:
        flags: The flags, (n,), where n is a multiple of 8.

    Returns:
        The indices of the set flags, in ascending order.
    """
    words = flags.view(_WORD)
    hit = np.flatnonzero(words != 0)
    if len(hit) != np.count_nonzero(flags):
        return np.flatnonzero(flags)
    byte = words.take(hit)
    byte *= _BYTE_NUMBER
    byte >>= np.uint64(56)
    hit <<= 3
    hit += byte.view(np.int64)
    return hit


def digit_flags(text: Bytes) -> Flags:
    """Return whether each byte is an ASCII digit."""
    return (text - np.uint8(ord("0"))) < 10


def count_words(text: bytes) -> int:
    """Count the words in a text. Words are separated by bytes up to 0x20 (the space). `len(text.split())` would take
    ten times as long.
    """
    count, before = 0, False
    for start in range(0, len(text), PIECE):
        solid = np.frombuffer(text, np.uint8, min(PIECE, len(text) - start), start) > ord(" ")
        count += int(np.count_nonzero(solid[1:] > solid[:-1])) + (bool(solid[0]) and not before)
        before = bool(solid[-1])
    return count


def word_at(text: Bytes, at: Positions) -> Words:
    """Load one 8-byte word from each given position in a text.

    Args:
        text: A text that `padded` returned.
        at: Position of the first byte of each word, (n,).
    """
    words = text.view(_WORD)
    index, bits = at >> 3, ((at & 7) << 3).view(np.uint64)
    loaded: Words = words.take(index)
    loaded >>= bits
    index += 1
    loaded |= words.take(index) << (_WORD_BITS - bits)
    return loaded


def last_digits(words: Words, count: Positions) -> Positions:
    """Read the number at the end of each word. The words are overwritten.

    Args:
        words: Words of eight characters, (n,).
        count: Number of digits of each number, 0 to 8, (n,).
    """
    bits = (64 - (count << 3)).view(np.uint64)
    words >>= bits
    words <<= bits
    return _joined(words)


def first_digits(words: Words, count: Positions) -> Positions:
    """Read the number at the start of each word, extended to 8 digits with zeros at the end. The words are overwritten.

    Args:
        words: Words of eight characters, (n,).
        count: Number of digits of each number, 0 to 8, (n,).
    """
    bits = (64 - (count << 3)).view(np.uint64)
    words <<= bits
    words >>= bits
    return _joined(words)


def _joined(words: Words) -> Positions:
    for mask, factor, bits in _JOINS:
        words &= mask
        words *= factor
        words >>= bits
    return words.view(np.int64)
