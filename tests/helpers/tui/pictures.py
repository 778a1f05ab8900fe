"""Open a folder in the terminal UI, press some keys, and draw the screen as a PNG image.

Run by hand: `python -m tests.helpers.tui.pictures OUT.png FOLDER [KEY ...] [--size 80x24] [--colours
truecolor|256|standard|none] [--ascii]`. Keys are named as in Textual (space, full_stop, enter). The key `wait` waits
for half a second.
"""

from __future__ import annotations

import argparse
import asyncio
import os
import sys
from collections.abc import AsyncIterator, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from inspector.picture.png import png_bytes
from tests.helpers.tui.drawn import drawn
from tests.helpers.tui.painting import pixels

if TYPE_CHECKING:
    from textual.strip import Strip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("out", type=Path)
    parser.add_argument("folder", type=Path)
    parser.add_argument("keys", nargs="*")
    parser.add_argument("--size", default="80x24")
    parser.add_argument("--colours", choices=("truecolor", "256", "standard", "none"), default="truecolor")
    parser.add_argument("--ascii", action="store_true")
    options = parser.parse_args()
    set_colours(options.colours)
    width, height = map(int, options.size.split("x"))
    strips = asyncio.run(screen(options.folder, options.keys, (width, height), ascii_only=options.ascii))
    options.out.write_bytes(png_bytes(pixels(drawn(strips))))
    sys.stdout.write("\n".join("".join(segment.text for segment in strip) for strip in strips) + "\n")


def set_colours(colours: str) -> None:
    """Set the colours that the app's terminal can show. Call this before the app is imported."""
    os.environ.pop("NO_COLOR", None)
    if colours == "none":
        os.environ["NO_COLOR"] = "1"
    else:
        os.environ["TEXTUAL_COLOR_SYSTEM"] = colours


async def screen(folder: Path, keys: Sequence[str], size: tuple[int, int], *, ascii_only: bool) -> list[Strip]:
    *_, last = [one async for one in screens(folder, [keys], size, ascii_only=ascii_only)]
    return last


async def screens(
    folder: Path, steps: Iterable[Sequence[str]], size: tuple[int, int], *, ascii_only: bool = False
) -> AsyncIterator[list[Strip]]:
    from inspector.sequence.discovery.settings import Settings
    from inspector.tui.app import MeshqcApp
    from inspector.tui.glyphs import ASCII, UNICODE

    app = MeshqcApp(folder, Settings(), ASCII if ascii_only else UNICODE)
    async with app.run_test(size=size) as pilot:
        await app.workers.wait_for_complete()
        for keys in steps:
            for key in keys:
                if key == "wait":
                    await asyncio.sleep(0.5)
                else:
                    await pilot.press(key)
                    await app.workers.wait_for_complete()
            await pilot.pause()
            yield app.screen._compositor.render_strips()


if __name__ == "__main__":
    main()
