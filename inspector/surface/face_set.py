"""A digest of faces that doesn't ask in which order they are listed."""

from __future__ import annotations

import numpy as np
import numpy.typing as npt

from inspector.formats.frame import Corners

_Words = npt.NDArray[np.uint64]

# Odd numbers without a pattern, as wide as a word: 2^64 over the golden ratio, and the factors of _mixed.
_STEP = np.uint64(0x9E3779B97F4A7C15)
_FACTORS = (np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))


def face_set(corners: Corners) -> bytes:
    """8 bytes: equal for the same faces in any order, each with its corners from the same first one on.

    The sum of a hash of every face, so that order drops out; other faces give another sum but for one chance in 2^64.
    """
    sizes = corners.sizes
    place = np.arange(len(corners.v)) - np.repeat(corners.offsets[:-1], sizes)
    words = _mixed((corners.v.astype(np.int64) + 1).view(np.uint64) + place.view(np.uint64) * _STEP)
    sums = np.concatenate([np.zeros(1, np.uint64), np.cumsum(words)])
    faces = sums[corners.offsets[1:]] - sums[corners.offsets[:-1]]
    return np.sum(_mixed(faces + sizes.view(np.uint64)), dtype=np.uint64).tobytes()


def _mixed(words: _Words) -> _Words:
    """Each word with all its bits mixed (G. Steele, D. Lea, C. Flood 2014, "Fast Splittable Pseudorandom Number
    Generators": its last step)."""
    words = words + _STEP
    for shift, factor in zip((30, 27), _FACTORS, strict=True):
        words ^= words >> np.uint64(shift)
        words *= factor
    words ^= words >> np.uint64(31)
    return words
