"""Arrange the vertices of a mesh in rows and columns if its faces are a single rectangular grid of quads."""

from __future__ import annotations

import numpy as np

from inspector.arrays import Indices
from inspector.formats.frame import ABSENT, Corners


def quad_grid(corners: Corners) -> Indices | None:
    """Arrange the vertices of a grid of quads in rows and columns.

    Returns:
        Vertex indices, (rows, columns); None if the faces are not a single rectangular grid of quads. Of the
        grid's four corners, the corner with the lowest index comes first. Seen from the front of the faces, and turned
        so that this corner is at the lower left, columns are numbered from left to right, and rows from bottom to top.
    """
    if not len(corners.sizes) or not (corners.sizes == 4).all() or (corners.v == ABSENT).any():
        return None
    quads = corners.v.reshape(-1, 4).astype(np.int64)
    after = np.roll(quads, -1, axis=1)
    sides = {
        side: (number // 4, number % 4)
        for number, side in enumerate(zip(quads.ravel().tolist(), after.ravel().tolist(), strict=True))
    }
    uses = np.bincount(quads.ravel())
    ends = np.flatnonzero(uses == 1)
    if len(sides) != quads.size or len(ends) != 4:
        return None
    face, corner = (int(place[0]) for place in np.nonzero(quads == ends[0]))
    rows = _rows(quads, sides, face, corner)
    if rows is None:
        return None
    grid = np.array(rows)
    whole = (grid.shape[0] - 1) * (grid.shape[1] - 1) == len(quads) and len(np.unique(grid)) == grid.size
    return grid if whole and grid.size == np.count_nonzero(uses) else None


def _rows(
    quads: Indices, sides: dict[tuple[int, int], tuple[int, int]], face: int, corner: int
) -> list[list[int]] | None:
    """Follow each row of the grid's faces from left to right, beginning with the bottom row.

    The grid's lower left corner is corner `corner` of face `face`.

    Returns:
        The vertices row by row, from the bottom to the top; None if the faces are not a grid.
    """
    table = quads.tolist()
    rows: list[list[int]] = []
    seen: set[int] = set()
    start: tuple[int, int] | None = (face, corner)
    while start is not None:
        below, above, place = [], [], start
        first = _from(table[start[0]], start[1])
        below.append(first[0])
        above.append(first[3])
        here: tuple[int, int] | None = place
        while here is not None:
            if here[0] in seen:
                return None
            seen.add(here[0])
            _, b, c, _ = _from(table[here[0]], here[1])
            below.append(b)
            above.append(c)
            beside = sides.get((c, b))
            here = None if beside is None else (beside[0], (beside[1] + 1) % 4)
        if rows and rows[-1] != below:
            return None
        rows += [below, above] if not rows else [above]
        start = sides.get((first[3], first[2]))
    return rows if len({len(row) for row in rows}) == 1 else None


def _from(quad: list[int], corner: int) -> list[int]:
    """Return the quad's vertices, starting at the given corner."""
    return quad[corner:] + quad[:corner]
