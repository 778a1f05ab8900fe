"""A screen that was split by `drawn`, painted as pixels or as SVG."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import Path
from xml.etree import ElementTree

import numpy as np

from tests.helpers.tui.drawn import HIGH, PAPER, PART_TOPS, WIDE, Colour, Drawn, Run

_FONT = "/usr/share/fonts/truetype/dejavu/DejaVuSansMono{}.ttf"
_SIZE = 16  # of letters, in pixels
_DOT = 3
_BASE = 16  # pixels from the top of a cell to the baseline of its letters
_WORDS = re.compile(r"[^ ]+(?: [^ ]+)*")  # separated at two or more spaces, which SVG would collapse to one
Box = tuple[int, int, int, int]
"""Left, top, width and height, in pixels."""


def pixels(screen: Drawn) -> np.ndarray:
    """Return the screen as an image, (h, w, 3) uint8, with letters in the system's DejaVu Sans Mono."""
    from PIL import Image, ImageDraw, ImageFont

    image = Image.new("RGB", (screen.columns * WIDE, screen.rows * HIGH), PAPER)
    pen = ImageDraw.Draw(image)
    for colour, boxes in boxes_by_colour(screen).items():
        for left, top, width, height in boxes:
            pen.rectangle((left, top, left + width - 1, top + height - 1), fill=colour)
    fonts = [ImageFont.truetype(Path(_FONT.format(name)), _SIZE) for name in ("", "-Bold")]
    for run in screen.runs:
        top = run.row * HIGH
        for at, letter in enumerate(run.text, run.column):
            pen.text((at * WIDE, top), letter, fill=run.ink, font=fonts[run.bold])
        if run.underline:
            end = (run.column + len(run.text)) * WIDE - 1
            pen.line((run.column * WIDE, top + HIGH - 2, end, top + HIGH - 2), fill=run.ink)
    return np.asarray(image)


def svg(screen: Drawn, title: str) -> str:
    """Return the screen as SVG, with letters as text in the reader's monospaced font.

    Each box is drawn as a thick line. All lines of the same colour and thickness are in one path.
    """
    width, height = screen.columns * WIDE, screen.rows * HIGH
    root = ElementTree.Element("svg", xmlns="http://www.w3.org/2000/svg", viewBox=f"0 0 {width} {height}", role="img")
    ElementTree.SubElement(root, "title").text = title
    ElementTree.SubElement(root, "rect", width="100%", height="100%", fill=_hex(PAPER))
    blocks = ElementTree.SubElement(root, "g", {"shape-rendering": "crispEdges"})
    for colour, boxes in boxes_by_colour(screen).items():
        for thick in sorted({box[3] for box in boxes}, reverse=True):
            path = "".join(f"M{left} {top + thick / 2:g}h{wide}" for left, top, wide, high in boxes if high == thick)
            look = {"stroke": _hex(colour), "stroke-width": str(thick), "d": path}
            ElementTree.SubElement(blocks, "path", look)
    letters = ElementTree.SubElement(root, "g", {"font-family": "DejaVu Sans Mono, monospace", "font-size": str(_SIZE)})
    for run in screen.runs:
        for words in _WORDS.finditer(run.text):
            _text(letters, run, words)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def _text(parent: ElementTree.Element, run: Run, words: re.Match[str]) -> None:
    place = {"x": str((run.column + words.start()) * WIDE), "y": str(run.row * HIGH + _BASE), "fill": _hex(run.ink)}
    size = {"textLength": str(len(words[0]) * WIDE), "lengthAdjust": "spacingAndGlyphs"}
    bold = {"font-weight": "bold"} if run.bold else {}
    line = {"text-decoration": "underline"} if run.underline else {}
    ElementTree.SubElement(parent, "text", place | size | bold | line).text = words[0]


def boxes_by_colour(screen: Drawn) -> dict[Colour, list[Box]]:
    """Return the boxes of everything that is neither a letter nor in the colour of the paper.

    Adjacent parts of the same colour in a row form one box.
    """
    boxes: dict[Colour, list[Box]] = {}
    for colour, box in _runs(screen):
        boxes.setdefault(colour, []).append(box)
    for colour, dots in screen.dots.items():
        boxes.setdefault(colour, []).extend((left, top, _DOT, _DOT) for left, top in dots)
    return boxes


def _runs(screen: Drawn) -> Iterator[tuple[Colour, Box]]:
    for row in range(screen.rows):
        runs = [_runs_of(line) for line in screen.parts[4 * row : 4 * row + 4]]
        lines = [(0, runs[:2]), (2, runs[2:])]
        for first, (upper, lower) in lines:
            tops = [row * HIGH + top for top in PART_TOPS[first : first + 3]]
            pieces = [(tops[0], tops[2], upper)] if upper == lower else [(*tops[:2], upper), (*tops[1:], lower)]
            for top, foot, found in pieces:
                for colour, left, count in found:
                    yield colour, (left * WIDE // 2, top, count * WIDE // 2, foot - top)


def _runs_of(line: Sequence[Colour]) -> list[tuple[Colour, int, int]]:
    """For each run of parts that have the same colour, return this colour, the index of the first part, and the length.
    Parts in the colour of the paper are left out."""
    runs, column = [], 0
    for colour, parts in groupby(line):
        count = len(list(parts))
        if colour != PAPER:
            runs.append((colour, column, count))
        column += count
    return runs


def _hex(colour: Colour) -> str:
    return "#{:02x}{:02x}{:02x}".format(*colour)
