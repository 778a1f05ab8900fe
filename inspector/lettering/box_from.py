"""Find the lettering box of existing artwork: the area in which two textures differ."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from inspector.errors import MeshqcError
from inspector.names import Name
from inspector.picture.image_files import read_layer

_DIFFERENCE = 8
"""Two pixels count as equal if they differ by at most this value in every channel, on a scale from 0 to 255. Lossy
compression and dithering cause such differences (common practice, no source).
"""


def box_from(one: Path, other: Path) -> tuple[tuple[int, int, int, int], tuple[int, int]]:
    """Find the box in which two textures of the same size differ.

    Args:
        one: Path of one texture.
        other: Path of the other texture.

    Returns:
        Left, top, right and bottom of the box, in pixels from the top left corner; and the width and height of the
        textures.

    Raises:
        MeshqcError: A texture can't be read, the textures have different sizes, or no pixel differs by more than
            _DIFFERENCE.
    """
    first, second = read_layer(one).pixels, read_layer(other).pixels
    names = f"{Name.from_path(one)} and {Name.from_path(other)}"
    if first.shape != second.shape:
        sizes = " and ".join(f"{image.shape[1]} x {image.shape[0]}" for image in (first, second))
        raise MeshqcError(
            f"--box-from: {names} have different sizes ({sizes} pixels); give two textures of the same size"
        )
    unlike = (np.abs(first.astype(np.int16) - second) > _DIFFERENCE).any(axis=2)
    if not unlike.any():
        raise MeshqcError(
            f"--box-from: no pixel differs between {names} by more than {_DIFFERENCE} (on a scale from 0 to 255); give "
            "two textures with different lettering"
        )
    rows, columns = np.flatnonzero(unlike.any(axis=1)), np.flatnonzero(unlike.any(axis=0))
    box = int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1
    return box, (first.shape[1], first.shape[0])
