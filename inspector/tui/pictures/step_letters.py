"""Write letters into the cells of a shaded picture, so that the steps of the shades can be distinguished without
colour."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
from rich.style import Style
from textual.strip import Strip

from inspector.picture.ramp import NO_VALUE, Ramp, Steps
from inspector.tui.pictures.cells import Cells, overlaid
from inspector.tui.pictures.colours import MIDDLE, luminance, seen
from inspector.tui.styles import PLAIN, STRONG

_ROWS, _COLUMNS = 2, 8
"""Letters are written in every second row and every eighth column. In alternate rows of letters, the columns are
shifted by four."""

_DOTS = "".join(map(chr, range(0x2801, 0x2900)))
_ON_LIGHT, _ON_DARK = Style(color="black"), Style(color="bright_white", bold=True)


def lettered(strips: Sequence[Strip], steps: Steps, ramp: Ramp, cells: Cells) -> list[Strip]:
    """Return the lines of a picture with letters written on them.

    Args:
        strips: The lines. They are not changed.
        steps: Step of the ramp for each pixel, (h, w); NO_VALUE for a pixel without a step.
        ramp: The ramp, which has a letter for each step.
        cells: The kind of cells that show the picture.
    """
    lines = list(strips)
    for row, column, step in _places(steps, cells):
        lines[row] = _with_letter(lines[row], column, ramp, step)
    return [line.simplify() for line in lines]


def _places(steps: Steps, cells: Cells) -> Iterator[tuple[int, int, int]]:
    """Yield the row, the column and the step of each cell that gets a letter.

    A cell of a regular grid gets a letter if all its pixels have the same step. If a step has no such cell, its letter
    is written in the free cell with the most pixels of that step. If several free cells have the most pixels of that
    step, the middle one of these free cells is used. A step gets no letter if no free cell has a pixel of that step.
    """
    height, width = steps.shape
    pixels = steps.reshape(height // cells.down, cells.down, width // cells.across, cells.across)
    row, column = np.indices((pixels.shape[0], pixels.shape[2]))
    free = np.ones(row.shape, bool)
    on_grid = (row % _ROWS == 0) & ((column + row // _ROWS % 2 * (_COLUMNS // 2)) % _COLUMNS == 0)
    for step in np.setdiff1d(steps, [NO_VALUE]).tolist():
        share = (pixels == step).sum(axis=(1, 3)) * free
        places = np.argwhere(on_grid & (share == cells.down * cells.across))
        if not len(places) and share.any():
            most = np.argwhere(share == share.max())
            places = most[len(most) // 2 :][:1]
        for at, across in places.tolist():
            free[at, across] = False
            yield at, across, step


def _with_letter(line: Strip, column: int, ramp: Ramp, step: int) -> Strip:
    """Write the letter of a step into a cell.

    In a cell of two colours, the letter is written on the colour that is closer to the step's colour. In a cell of
    coloured dots, it is written on the background. Without colours, the letter is bold.
    """
    (cell,) = line.crop(column, column + 1)
    style = cell.style or PLAIN
    papers = [colour for colour in (style.bgcolor, style.color if cell.text.strip() else None) if colour is not None]
    if style.bgcolor is None or cell.text in _DOTS:
        return overlaid(line, column, ramp.letters[step], STRONG if style.bgcolor is None else _ON_DARK)
    wanted = ramp.colours[step].astype(int)
    paper = min(papers, key=lambda colour: int(((np.array(seen(colour)) - wanted) ** 2).sum()))
    ink = _ON_LIGHT if luminance(seen(paper)) > MIDDLE else _ON_DARK
    return overlaid(line, column, ramp.letters[step], Style(bgcolor=paper) + ink)
