"""Bounds that several packages share. Every other bound is in the module that uses it."""

from __future__ import annotations

from inspector.threshold import Threshold

PLACES_KEPT = 5
"""Maximum number of locations to keep for each kind of problem in a file: enough to show a pattern."""

SINGLE_LARGEST = Threshold(
    "single-largest",
    3.4028234663852886e38,
    "A larger number can't be stored in single precision. The value is the largest finite number in IEEE 754 binary32, "
    "(2 - 2^-23) * 2^127.",
)

UV_DIFFERENCE = Threshold(
    "uv-difference",
    1e-4,
    "Two UVs count as different if they differ by more than this value in u or in v. The value is less than half a "
    "pixel on a map 4096 pixels wide (half a pixel is 1.2e-4). It is more than the error of rounding to four decimal "
    "places.",
    unit="texture widths",
)

DRAWN_PIXELS = 1 << 23
"""Maximum number of pixels in one drawing: enough for 1920 x 1080 with both width and height doubled. At about 80 bytes
per pixel, such a drawing takes 0.7 GB of the memory budget of 1.5 GB.
"""
