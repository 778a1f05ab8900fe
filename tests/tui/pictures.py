"""Screens as PNG pictures, to be looked at: the keyboard face on a folder after some keys.

By hand: python -m tests.tui.pictures OUT.png FOLDER [KEY ...] [--size 80x24] [--colours truecolor|256|standard|none]
[--ascii]. A key `wait` lets half a second pass. Keys are Textual's names (space, full_stop, enter).
"""

from __future__ import annotations

import argparse
import asyncio
import os
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from inspector.picture.png import png_bytes

if TYPE_CHECKING:
    from rich.style import Style
    from textual.strip import Strip

_FONT = Path("/usr/share/fonts/truetype/dejavu/DejaVuSansMono.ttf")
_WIDE, _HIGH = 10, 20
_INK, _PAPER = (208, 208, 208), (0, 0, 0)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("keys", nargs="*")
    parser.add_argument("--size", default="80x24")
    parser.add_argument("--colours", choices=("truecolor", "256", "standard", "none"), default="truecolor")
    parser.add_argument("--ascii", action="store_true")
    options = parser.parse_args()
    os.environ.pop("NO_COLOR", None)
    if options.colours == "none":
        os.environ["NO_COLOR"] = "1"
    else:
        os.environ["TEXTUAL_COLOR_SYSTEM"] = options.colours
    width, height = map(int, options.size.split("x"))
    strips = asyncio.run(screen(options.folder, options.keys, (width, height), ascii_only=options.ascii))
    options.out.write_bytes(png_bytes(painted(strips)))
    sys.stdout.write("\n".join("".join(segment.text for segment in strip) for strip in strips) + "\n")


async def screen(folder: Path, keys: list[str], size: tuple[int, int], *, ascii_only: bool) -> list[Strip]:
    """The lines of the screen once the folder is read and the keys are done."""
    from inspector.sequence.settings import Settings
    from inspector.tui.app import MeshqcApp
    from inspector.tui.glyphs import ASCII, UNICODE

    app = MeshqcApp(folder, Settings(), ASCII if ascii_only else UNICODE)
    async with app.run_test(size=size) as pilot:
        await app.workers.wait_for_complete()
        for key in keys:
            if key == "wait":
                await asyncio.sleep(0.5)
            else:
                await pilot.press(key)
                await app.workers.wait_for_complete()
        await pilot.pause()
        return app.screen._compositor.render_strips()


def painted(strips: list[Strip]) -> np.ndarray:
    """(h, w, 3) uint8, each cell _WIDE x _HIGH pixels; blocks and Braille by their geometry, the rest in a font."""
    from PIL import Image, ImageDraw, ImageFont

    columns = max(strip.cell_length for strip in strips)
    image = Image.new("RGB", (columns * _WIDE, len(strips) * _HIGH), _PAPER)
    pen, font = ImageDraw.Draw(image), ImageFont.truetype(str(_FONT), 16)
    for row, strip in enumerate(strips):
        column = 0
        for text, style, _ in strip:
            ink, paper = _colours(style)
            for letter in text:
                left, top = column * _WIDE, row * _HIGH
                pen.rectangle((left, top, left + _WIDE - 1, top + _HIGH - 1), fill=paper)
                _letter(pen, font, letter, left, top, ink)
                if style and style.underline:
                    pen.line((left, top + _HIGH - 2, left + _WIDE - 1, top + _HIGH - 2), fill=ink)
                column += 1
    return np.asarray(image)


def _letter(pen: object, font: object, letter: str, left: int, top: int, ink: tuple[int, int, int]) -> None:
    halves = {"▀": (0, 1), "▄": (1, 2), "█": (0, 2)}
    if letter in halves:
        first, last = halves[letter]
        pen.rectangle((left, top + first * _HIGH // 2, left + _WIDE - 1, top + last * _HIGH // 2 - 1), fill=ink)
    elif 0x2800 <= ord(letter) < 0x2900:
        for bit, (x, y) in enumerate([(0, 0), (0, 1), (0, 2), (1, 0), (1, 1), (1, 2), (0, 3), (1, 3)]):
            if ord(letter) >> bit & 1:
                pen.rectangle((left + 5 * x + 1, top + 5 * y + 1, left + 5 * x + 3, top + 5 * y + 3), fill=ink)
    elif letter != " ":
        pen.text((left, top), letter, fill=ink, font=font)


def _colours(style: Style | None) -> tuple[tuple[int, int, int], tuple[int, int, int]]:
    from rich.color import ColorType

    def rgb(colour: object, default: tuple[int, int, int]) -> tuple[int, int, int]:
        if colour is None or colour.type is ColorType.DEFAULT:
            return default
        return tuple(colour.get_truecolor())

    if style is None:
        return _INK, _PAPER
    ink, paper = rgb(style.color, _INK), rgb(style.bgcolor, _PAPER)
    if style.dim:
        ink = tuple((a + b) // 2 for a, b in zip(ink, paper, strict=True))
    if style.bold and style.color is None:
        ink = (255, 255, 255)
    return (paper, ink) if style.reverse else (ink, paper)


if __name__ == "__main__":
    main()
