"""Compute a digest of faces that doesn't depend on their order."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector import _native
from inspector.arrays import Indices, SmallIndices
from inspector.formats.frame import Corners

_CHUNK = 1 << 14
"""Number of faces to hash in one batch, so that their hashes fit in a core's own cache."""

_Words = npt.NDArray[np.uint64]

# Odd 64-bit numbers without a pattern: 2^64 divided by the golden ratio, and the factors for _mixed.
_STEP = np.uint64(0x9E3779B97F4A7C15)
_FACTORS = (np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))


@np.errstate(over="ignore")
def face_set(corners: Corners) -> bytes:
    """Compute an 8-byte digest that is equal for the same faces in any order.

    Faces are the same only if their lists of vertices start at the same vertex. The digest is the sum of the hashes of
    all faces. Different sets of faces have the same digest with a probability of 1 in 2^64.
    """
    if _native.active:
        return _native.core.hash_faces(*corners.packed()).to_bytes(8, "little")
    total = np.uint64(0)
    for start in range(0, len(corners.offsets) - 1, _CHUNK):
        offsets = corners.offsets[start : start + _CHUNK + 1]
        total += _sum(corners.v[offsets[0] : offsets[-1]], offsets - offsets[0])
    return total.tobytes()


@np.errstate(over="ignore")  # sums wrap around at 2^64
def _sum(v: SmallIndices, offsets: Indices) -> np.uint64:
    sizes = np.diff(offsets)
    place = np.arange(len(v)) - np.repeat(offsets[:-1], sizes)
    words = _mixed((v.astype(np.int64) + 1).view(np.uint64) + place.view(np.uint64) * _STEP)
    sums = np.concatenate([np.zeros(1, np.uint64), np.cumsum(words)])
    faces = sums[offsets[1:]] - sums[offsets[:-1]]
    return np.uint64(_mixed(faces + sizes.view(np.uint64)).sum(dtype=np.uint64))


def _mixed(words: _Words) -> _Words:
    """Mix the bits of each word: the last step of G. Steele, D. Lea, C. Flood 2014, "Fast Splittable Pseudorandom
    Number Generators"."""
    words = words + _STEP
    for shift, factor in zip((30, 27), _FACTORS, strict=True):
        words ^= words >> np.uint64(shift)
        words *= factor
    words ^= words >> np.uint64(31)
    return words
