"""The manta ray at rest: its outline, thickness and faces, and its UV layout in two islands (back and belly).

The back and the belly are grids of 25 stations across and 12 rows from front to rear. A narrow strip of quads along the
rim joins them into a closed surface. Units are metres, Y is up, and the animal faces +Z.
"""

from __future__ import annotations

import numpy as np

from inspector.arrays import Floats, Indices
from inspector.demo.quad_mesh import grid_quads

# One half of the animal, station by station from the spine to the wing tip: distance from the spine, front edge and
# rear edge. The stations around 0.135 form the lobe beside the mouth.
SPAN: Floats = np.array([0, 0.025, 0.075, 0.135, 0.195, 0.28, 0.39, 0.52, 0.68, 0.84, 1.0, 1.16, 1.3])
_FRONT: Floats = np.array([0.53, 0.535, 0.6, 0.81, 0.63, 0.51, 0.44, 0.35, 0.23, 0.09, -0.06, -0.22, -0.39])
_REAR: Floats = np.array([-0.62, -0.61, -0.58, -0.55, -0.52, -0.46, -0.39, -0.31, -0.26, -0.25, -0.28, -0.35, -0.44])

# Rows as fractions of the distance from the front edge to the rear edge. The last four rows also form the tail.
ROWS: Floats = np.array([0, 0.04, 0.11, 0.2, 0.31, 0.43, 0.56, 0.69, 0.81, 0.89, 0.95, 1])
TAIL_ROWS: Floats = np.array([0, 0, 0, 0, 0, 0, 0, 0, 0.12, 0.4, 0.7, 1])
_TAIL_LENGTH = 0.8
_TAIL_STATIONS = 2
_TAIL_WIDTH = 0.35
_RIM = 0.006
"""Half the height of the rim, in metres."""

STATIONS = 2 * len(SPAN) - 1
SHEET = STATIONS * len(ROWS)
"""Number of vertices of the back. The belly has the same number."""

# The texture has 12 x 5 cells: one island is in the left six columns, and the other in the right six.
_CELL = 0.47
"""Size of one cell of the texture on the animal, in metres."""
_MIDDLE_Z = -0.3
_RIM_IN_UV = 0.012
"""Width of the rim's strip in the layout, in metres. The strip is wider than in the scene, so that it is visible."""


def _sheet_numbers() -> Indices:
    return np.arange(SHEET, dtype=np.int64).reshape(STATIONS, len(ROWS))


def _rim_numbers() -> Indices:
    """Return the vertex indices around the edge of the back, (70,), in the winding direction of its faces."""
    sheet = _sheet_numbers()
    return np.concatenate([sheet[:-1, 0], sheet[-1, :-1], sheet[:0:-1, -1], sheet[0, :0:-1]])


RIM: Indices = _rim_numbers()


def half_depths() -> Floats:
    """Return the Z coordinate at each station and row of one half of the body and its tail, (13, 12), in metres."""
    depth = _FRONT[:, None] + (_REAR - _FRONT)[:, None] * ROWS
    depth[:_TAIL_STATIONS] -= _TAIL_LENGTH * TAIL_ROWS
    return depth


def tail_narrowing() -> Floats:
    """Return the factors, (13, 12), by which distances from the spine are multiplied to make the tail thin."""
    factor = np.ones((len(SPAN), len(ROWS)))
    factor[:_TAIL_STATIONS] -= (1 - _TAIL_WIDTH) * TAIL_ROWS
    return factor


def half_thickness() -> Floats:
    """Return half the height at each station and row of one half of the body, (13, 12), in metres."""
    across = 0.105 * np.exp(-((SPAN / 0.2) ** 2)) + 0.042 * (1 - SPAN / 1.36)
    along = 2.6 * np.sqrt(ROWS) * (1 - ROWS)
    thickness: Floats = across[:, None] * along + _RIM
    return thickness


def both_halves(half: Floats, sign: int) -> Floats:
    """Extend the values of one half to both halves.

    Args:
        half: The values, (13, 12).
        sign: Factor for the mirrored half, 1 or -1.

    Returns:
        The values at all stations from -X to +X, (25, 12).
    """
    return np.concatenate([sign * half[:0:-1], half])


def faces() -> Indices:
    """Make the quads of the back, the belly and the rim, (598, 4), counter-clockwise as seen from outside. The back's
    vertices come first."""
    back = grid_quads(_sheet_numbers())
    following = np.roll(RIM, -1)
    rim = np.stack([following, RIM, RIM + SHEET, following + SHEET], axis=-1)
    return np.concatenate([back, back[:, ::-1] + SHEET, rim])


def layout(*, rim_with_belly: bool = False) -> tuple[Floats, Indices]:
    """Make the UV layout of the back, the belly, and the rim's strip. The seam runs along the rim.

    Args:
        rim_with_belly: Whether the strip belongs to the island of the belly instead of that of the back.

    Returns:
        The UVs of the back, the belly, and the outer edge of the strip, (670, 2); and the UV indices at the corners of
        the quads, (598, 4).
    """
    x = both_halves(SPAN[:, None] * tail_narrowing(), -1).ravel()
    z = both_halves(half_depths(), 1).ravel()
    outer_x, outer_z = _widened(x[RIM], z[RIM])
    back, belly = _island(x, z, 3.0, -1), _island(x, z, 9.0, 1)
    outer = _island(outer_x, outer_z, 9.0, 1) if rim_with_belly else _island(outer_x, outer_z, 3.0, -1)
    numbers = faces()
    first, following = np.arange(len(RIM)) + 2 * SHEET, np.roll(np.arange(len(RIM)), -1) + 2 * SHEET
    columns = (0, 1, 1, 0) if rim_with_belly else (3, 2, 2, 3)
    numbers[-len(RIM) :, columns[0]], numbers[-len(RIM) :, columns[1]] = following, first
    return np.concatenate([back, belly, outer]), numbers


def _island(x: Floats, z: Floats, middle: float, sign: int) -> Floats:
    """Return the UVs, (n, 2), of a view of the outline: from above for sign -1, from below for sign 1.

    The texture is not mirrored. `middle` is the position of the spine, in columns of cells. `x` and `z` are in metres.
    """
    return np.stack([(middle + sign * x / _CELL) / 12, (2.5 + (z - _MIDDLE_Z) / _CELL) / 5], axis=-1)


def _widened(x: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Return the outline, moved outward by the width of the rim's strip in the layout."""
    along_x, along_z = np.roll(x, -1) - np.roll(x, 1), np.roll(z, -1) - np.roll(z, 1)
    scale = _RIM_IN_UV / np.sqrt(along_x**2 + along_z**2)
    return x - along_z * scale, z + along_x * scale
